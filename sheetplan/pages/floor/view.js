// A sheet behind glass: moved, made larger, turned, and measured by touch, mouse, wheel and keys.
//
// Terms
// -----
// place    A point of the picture in mm, as its viewBox counts.
// spot     A point of the glass in CSS dots from its upper left corner.

const LARGEST = 60;
const TAP_DOTS = 10;
const TAP_REACH = 26;
const SNAP_DOTS = 30;
const KEY_STEP = 80;
const KEY_ZOOM = 1.4;
const ASIDE = 4; // a piece straight ahead is nearer than one that lies aside
const LINE_DOTS = 1.4;
const SETTLED_MS = 140;
const TOUCH_MS = 700; // a browser moves the focus so long after a finger at most
const SVG = "http://www.w3.org/2000/svg";

class View {
  /** `heard` has tapped(piece), measured(text) and may leave any of them out. */
  constructor(glass, values, heard) {
    this.glass = glass;
    this.values = values;
    this.heard = heard;
    this.pointers = new Map();
    this.isQuarter = false;
    this.isRuling = false;
    this.isWhole = true;
    this.touchedAt = -TOUCH_MS;
    this.ends = [];
    this.outlines = new Map();
    glass.append(crossMark());
    this.listen();
  }

  /** Show a copy of a sheet's picture. */
  show(sheet, picture) {
    this.svg?.remove();
    this.sheet = sheet;
    this.svg = picture.cloneNode(true);
    for (const attribute of ["role", "aria-label", "width", "height"]) this.svg.removeAttribute(attribute);
    this.pieces = [...this.svg.querySelectorAll(".pieces use")];
    this.pieces.forEach((piece, at) => this.prepare(piece, at));
    this.svg.querySelector(".pieces").after(this.names());
    this.corners = null;
    this.chosen = null;
    this.ends = [];
    this.glass.prepend(this.svg);
    this.frame = this.svg.viewBox.baseVal;
    this.fit();
  }

  prepare(piece, at) {
    const number = Number(piece.getAttribute("href").slice(2));
    const part = this.values.parts[this.values.shapes[number][0]];
    piece.setAttribute("role", "button");
    piece.setAttribute("tabindex", at ? "-1" : "0");
    piece.setAttribute("aria-label", part.letter ? `${part.letter} ${part.name}` : part.name);
  }

  names() {
    const group = document.createElementNS(SVG, "g");
    group.setAttribute("class", "names");
    group.setAttribute("aria-hidden", "true");
    for (const piece of this.pieces) {
      const name = document.createElementNS(SVG, "use");
      name.setAttribute("href", piece.getAttribute("href").replace("#a", "#n"));
      name.setAttribute("x", piece.getAttribute("x"));
      name.setAttribute("y", piece.getAttribute("y"));
      group.append(name);
    }
    return group;
  }

  // Where the picture stands.

  get wide() {
    return this.isQuarter ? this.frame.height : this.frame.width;
  }

  get high() {
    return this.isQuarter ? this.frame.width : this.frame.height;
  }

  /** Dots to the mm at which all of the sheet is seen. */
  get least() {
    const { clientWidth, clientHeight } = this.glass;
    return Math.max(1e-6, Math.min(clientWidth / this.wide, clientHeight / this.high));
  }

  fit() {
    this.isWhole = true;
    this.scale = this.least;
    this.x = (this.glass.clientWidth - this.wide * this.scale) / 2;
    this.y = (this.glass.clientHeight - this.high * this.scale) / 2;
    this.settle();
  }

  turn() {
    this.isQuarter = !this.isQuarter;
    this.fit();
  }

  /** Make it larger or smaller round a spot. */
  zoom(factor, spot = this.middle) {
    const scale = Math.min(LARGEST * this.least, Math.max(0.8 * this.least, this.scale * factor));
    const change = scale / this.scale;
    this.isWhole = false;
    this.x = spot.x - (spot.x - this.x) * change;
    this.y = spot.y - (spot.y - this.y) * change;
    this.scale = scale;
    this.move(0, 0);
  }

  /** Move it, but never quite off the glass. */
  move(dx, dy) {
    const { clientWidth, clientHeight } = this.glass;
    const rim = 60;
    if (dx || dy) this.isWhole = false;
    this.x = Math.min(clientWidth - rim, Math.max(rim - this.wide * this.scale, this.x + dx));
    this.y = Math.min(clientHeight - rim, Math.max(rim - this.high * this.scale, this.y + dy));
    this.place();
    clearTimeout(this.later);
    this.later = setTimeout(() => this.settle(), SETTLED_MS);
  }

  /** While it moves it is one picture that is pushed about; lines get their width when it rests. */
  place() {
    this.svg.style.willChange = "transform";
    this.draw();
  }

  draw() {
    const zoom = this.scale / this.drawnScale;
    const turned = this.isQuarter ? `translate(${this.wide * this.scale}px, 0) rotate(90deg) ` : "";
    this.svg.style.transform = `translate(${this.x}px, ${this.y}px) ${turned}scale(${zoom})`;
  }

  settle() {
    clearTimeout(this.later);
    this.drawnScale = this.least;
    const { svg } = this;
    svg.style.willChange = "auto";
    svg.style.width = `${this.frame.width * this.drawnScale}px`;
    svg.style.height = `${this.frame.height * this.drawnScale}px`;
    svg.setAttribute("stroke-width", (LINE_DOTS / this.scale).toFixed(4));
    svg.style.setProperty("--thick", (5 / this.scale).toFixed(4));
    this.draw();
    this.drawRuler();
  }

  get middle() {
    return { x: this.glass.clientWidth / 2, y: this.glass.clientHeight / 2 };
  }

  spotOf(event) {
    const around = this.glass.getBoundingClientRect();
    return { x: event.clientX - around.left - this.glass.clientLeft, y: event.clientY - around.top - this.glass.clientTop };
  }

  /** The place under a spot, and back. */
  placeAt(spot) {
    const x = (spot.x - this.x) / this.scale;
    const y = (spot.y - this.y) / this.scale;
    const [along, down] = this.isQuarter ? [y, this.wide - x] : [x, y];
    return { x: along + this.frame.x, y: down + this.frame.y };
  }

  spotAt(place) {
    const [along, down] = [place.x - this.frame.x, place.y - this.frame.y];
    const [x, y] = this.isQuarter ? [this.wide - down, along] : [along, down];
    return { x: this.x + x * this.scale, y: this.y + y * this.scale };
  }

  // Pieces.

  shapeOf(piece) {
    return this.values.shapes[Number(piece.getAttribute("href").slice(2))];
  }

  partOf(piece) {
    return this.shapeOf(piece)[0];
  }

  boxOf(piece) {
    const [, left, top, right, bottom] = this.shapeOf(piece);
    const x = Number(piece.getAttribute("x"));
    const y = Number(piece.getAttribute("y"));
    return { left: x + left, top: y + top, right: x + right, bottom: y + bottom };
  }

  /** The piece at a spot, or the nearest one that a finger may have meant. */
  pieceAt(spot, target) {
    const under = target?.closest?.(".pieces use");
    if (under) return under;
    const { x, y } = this.placeAt(spot);
    let best = null;
    let least = TAP_REACH / this.scale;
    for (const piece of this.pieces) {
      const box = this.boxOf(piece);
      const dx = Math.max(box.left - x, 0, x - box.right);
      const dy = Math.max(box.top - y, 0, y - box.bottom);
      const far = Math.hypot(dx, dy);
      if (far > 0 && far < least) [best, least] = [piece, far];
    }
    return best;
  }

  choose(piece) {
    this.chosen?.classList.remove("chosen");
    this.pieces.forEach((one) => one.tabIndex === 0 && one.setAttribute("tabindex", "-1"));
    this.chosen = piece;
    (piece ?? this.pieces[0])?.setAttribute("tabindex", "0");
    piece?.classList.add("chosen");
    this.heard.tapped(piece);
  }

  /** Bring a piece onto the glass. */
  reveal(piece) {
    const box = this.boxOf(piece);
    const spot = this.spotAt({ x: (box.left + box.right) / 2, y: (box.top + box.bottom) / 2 });
    const { clientWidth, clientHeight } = this.glass;
    if (spot.x > 20 && spot.y > 20 && spot.x < clientWidth - 20 && spot.y < clientHeight - 20) return;
    this.move(clientWidth / 2 - spot.x, clientHeight / 2 - spot.y);
  }

  /** The nearest piece from a piece in a direction of the glass. */
  next(piece, [dx, dy]) {
    const from = this.centre(piece);
    let best = null;
    let least = Infinity;
    for (const other of this.pieces) {
      if (other === piece) continue;
      const to = this.centre(other);
      const ahead = (to.x - from.x) * dx + (to.y - from.y) * dy;
      const aside = Math.abs((to.x - from.x) * dy) + Math.abs((to.y - from.y) * dx);
      if (ahead > 0.5 && ahead + ASIDE * aside < least) [best, least] = [other, ahead + ASIDE * aside];
    }
    return best;
  }

  centre(piece) {
    const box = this.boxOf(piece);
    return this.spotAt({ x: (box.left + box.right) / 2, y: (box.top + box.bottom) / 2 });
  }

  /** Light up the pieces of some parts; null puts all of them as they were. */
  light(parts) {
    if (this.svg) lightUp(this.svg, this.values, parts);
  }

  // The ruler.

  rule(isRuling) {
    this.isRuling = isRuling;
    this.ends = [];
    this.glass.classList.toggle("ruling", isRuling);
    this.drawRuler();
    this.heard.measured(isRuling ? "Tap two points. They snap to corners and to the middle of round holes." : "");
  }

  /** All corners of the sheet and its pieces, and middles of round holes. */
  allCorners() {
    if (this.corners) return this.corners;
    this.corners = this.sheet.corners.map(([x, y]) => ({ x, y }));
    for (const piece of this.pieces) {
      const x = Number(piece.getAttribute("x"));
      const y = Number(piece.getAttribute("y"));
      for (const corner of this.cornersOf(piece.getAttribute("href"))) {
        this.corners.push({ x: x + corner.x, y: y + corner.y });
      }
    }
    return this.corners;
  }

  cornersOf(href) {
    if (!this.outlines.has(href)) {
      const path = document.querySelector(`${href} path`).getAttribute("d");
      const holes = this.values.shapes[Number(href.slice(2))][5].map(([x, y]) => ({ x, y }));
      this.outlines.set(href, [...cornersOfPath(path), ...holes]);
    }
    return this.outlines.get(href);
  }

  snapped(place) {
    let best = place;
    let least = SNAP_DOTS / this.scale;
    for (const corner of this.allCorners()) {
      const far = Math.hypot(corner.x - place.x, corner.y - place.y);
      if (far < least) [best, least] = [corner, far];
    }
    return best;
  }

  mark(spot) {
    if (this.ends.length === 2) this.ends = [];
    this.ends.push(this.snapped(this.placeAt(spot)));
    this.drawRuler();
    const [from, to] = this.ends;
    if (to === undefined) {
      this.heard.measured("One point is set. Tap the other.");
      return;
    }
    const [across, up] = [Math.abs(to.x - from.x), Math.abs(to.y - from.y)];
    const said = (mm) => lengthText(mm, this.values);
    this.heard.measured(
      `${said(Math.hypot(across, up))} ${this.values.unit} (along the length ${said(across)}, across ${said(up)})`,
    );
  }

  drawRuler() {
    this.ruled?.remove();
    if (!this.svg || !this.ends.length) return;
    this.ruled = document.createElementNS(SVG, "path");
    this.ruled.setAttribute("class", "ruled");
    this.ruled.setAttribute("stroke-width", (3 / this.scale).toFixed(4));
    const arm = 12 / this.scale;
    const ends = this.ends.map(({ x, y }) => `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}`);
    const [from, to] = this.ends;
    const line = to ? `M${from.x} ${from.y}L${to.x} ${to.y}` : "";
    this.ruled.setAttribute("d", ends.join("") + line);
    this.svg.append(this.ruled);
  }

  // What people do.

  listen() {
    const { glass } = this;
    glass.addEventListener("pointerdown", (event) => this.down(event));
    glass.addEventListener("pointermove", (event) => this.moved(event));
    glass.addEventListener("pointerup", (event) => this.up(event));
    glass.addEventListener("pointercancel", (event) => this.pointers.delete(event.pointerId));
    glass.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    glass.addEventListener("keydown", (event) => this.key(event));
    glass.addEventListener("focusin", (event) => {
      const piece = event.target.closest?.(".pieces use");
      if (this.isRuling && event.timeStamp - this.touchedAt < TOUCH_MS) return; // a point is meant, not a piece
      if (piece && piece !== this.chosen) {
        this.choose(piece);
        this.reveal(piece);
      }
    });
    new ResizeObserver(() => this.svg && glass.clientWidth && this.resized()).observe(glass);
  }

  /** A card or a line came or went beside the glass: what was made larger stays as it is. */
  resized() {
    if (this.isWhole) {
      this.fit();
      return;
    }
    this.move(0, 0);
    if (this.chosen) this.reveal(this.chosen);
  }

  down(event) {
    if (event.button) return;
    this.touchedAt = event.timeStamp;
    this.glass.setPointerCapture(event.pointerId);
    const spot = this.spotOf(event);
    if (!this.pointers.size) this.pressed = { spot, target: event.target, isTap: true };
    else this.pressed.isTap = false;
    this.pointers.set(event.pointerId, spot);
  }

  moved(event) {
    const last = this.pointers.get(event.pointerId);
    if (!last) return;
    const spot = this.spotOf(event);
    if (this.pressed.isTap && Math.hypot(spot.x - this.pressed.spot.x, spot.y - this.pressed.spot.y) < TAP_DOTS) return;
    this.pressed.isTap = false;
    if (this.pointers.size === 2) {
      const [other] = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, there]) => there);
      const apart = (one) => Math.max(1, Math.hypot(one.x - other.x, one.y - other.y));
      const between = { x: (spot.x + other.x) / 2, y: (spot.y + other.y) / 2 };
      this.zoom(apart(spot) / apart(last), between);
      this.move((spot.x - last.x) / 2, (spot.y - last.y) / 2);
    } else {
      this.move(spot.x - last.x, spot.y - last.y);
    }
    this.pointers.set(event.pointerId, spot);
  }

  up(event) {
    this.touchedAt = event.timeStamp;
    if (!this.pointers.delete(event.pointerId) || !this.pressed.isTap) return;
    const spot = this.spotOf(event);
    if (this.isRuling) {
      this.mark(spot);
    } else {
      this.choose(this.pieceAt(spot, this.pressed.target));
    }
  }

  wheel(event) {
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 30 : 1;
    this.zoom(Math.exp((-event.deltaY * lines) / 400), this.spotOf(event));
  }

  key(event) {
    const piece = event.target.closest?.(".pieces use");
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (way && piece) {
      this.next(piece, way)?.focus();
    } else if (way) {
      this.move(-way[0] * KEY_STEP, -way[1] * KEY_STEP);
    } else if (event.key === "+" || event.key === "=") {
      this.zoom(KEY_ZOOM);
    } else if (event.key === "-") {
      this.zoom(1 / KEY_ZOOM);
    } else if (event.key === "0") {
      this.fit();
    } else if ((event.key === "Enter" || event.key === " ") && (piece || this.isRuling)) {
      if (this.isRuling) this.mark(piece ? this.centre(piece) : this.middle);
      else this.choose(piece);
    } else {
      return;
    }
    event.preventDefault();
  }
}

/** Light up the pieces of some parts in a picture. */
function lightUp(svg, values, parts) {
  svg.classList.toggle("seeking", parts !== null);
  for (const piece of svg.querySelectorAll(".pieces use")) {
    const [part] = values.shapes[Number(piece.getAttribute("href").slice(2))];
    piece.classList.toggle("lit", parts !== null && parts.has(part));
  }
}

/** Ends of the lines and arcs of a path, but not those of a loop of arcs alone, which has no corners. */
function cornersOfPath(path) {
  const corners = [];
  for (const loop of path.match(/M[^M]*/g) ?? []) {
    if (!loop.includes("L")) continue;
    for (const [, , values] of loop.matchAll(/([MLA])([^MLAZ]*)/g)) {
      const [x, y] = values.trim().split(/[\s,]+/).slice(-2).map(Number);
      corners.push({ x, y });
    }
  }
  return corners;
}

function lengthText(mm, values) {
  const text = String(Number((mm / values.mm).toFixed(values.digits)));
  return values.comma ? text.replace(".", ",") : text;
}

function crossMark() {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", "cross");
  svg.setAttribute("viewBox", "0 0 41 41");
  svg.setAttribute("aria-hidden", "true");
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", "M20.5 0V41M0 20.5H41");
  svg.append(path);
  return svg;
}
