// A code for a telephone's camera (QR code, ISO/IEC 18004), drawn in the page itself.

const MOST_SIGNS = 1000; // a terminal of macOS takes 1,024 in a line that is pasted (its MAX_CANON)
const QUIET_SQUARES = 4; // white round the code: ISO/IEC 18004, quiet zone

/** Whether a text is short enough to be shown as a code. */
const isShort = (text) => text.length <= MOST_SIGNS;

/** A picture of a text that is short enough; dark on white whatever the page's colours are. */
function codeOf(text, label) {
  const code = leanQr.generate(text);
  const side = code.size + 2 * QUIET_SQUARES;
  const squares = [];
  for (let y = 0; y < code.size; y++) {
    for (let x = 0; x < code.size; x++) if (code.get(x, y)) squares.push(`M${x} ${y}h1v1h-1z`);
  }
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", `${-QUIET_SQUARES} ${-QUIET_SQUARES} ${side} ${side}`);
  svg.setAttribute("shape-rendering", "crispEdges");
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", label);
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", squares.join(""));
  svg.append(path);
  return svg;
}
