// Finding: which pieces a text means, on which sheets, and how many of them.
//
// Pieces of one part are alike, so those of an order are counted and all pieces of the part light up where some
// of them are for it.

const KINDS = { part: "part", order: "order", kit: "kit" };
const MOST_SHOWN = 40;

class Finder {
  constructor(values) {
    this.values = values;
    this.items = [
      ...values.orders.map((order, at) => ({
        kind: KINDS.order, name: order.name, at, said: fold(`${order.name} ${order.item}`),
      })),
      ...values.kits.map((kit, at) => ({
        kind: KINDS.kit, name: kit.name, at, letter: kit.letter, said: fold(kit.name),
      })),
      ...values.parts.map((part, at) => ({
        kind: KINDS.part, name: part.name, at, said: fold(`${part.name} ${part.description}`),
      })),
    ];
  }

  /** The orders, kits and parts that a text may mean; those that it names in full first. */
  matching(text) {
    const words = fold(text).split(/\s+/).filter(Boolean);
    if (!words.length) return [];
    const whole = words.join(" ");
    const found = this.items.filter((item) => words.every((word) => item.said.includes(word) || bare(item.said).includes(bare(word))));
    const exact = found.filter((item) => fold(item.name) === whole);
    return [...exact, ...found.filter((item) => !exact.includes(item))];
  }

  /** By sheet, a map from part to how many of its pieces are meant, all sheets of the layout together. */
  piecesOf(items) {
    return this.values.sheets.map((sheet) => {
      const found = new Map();
      for (const [part, , inAll, shares] of sheet.parts) {
        let meant = items.some((item) => item.kind === KINDS.part && item.at === part) ? inAll : 0;
        if (!meant) {
          for (const [order, pieces] of shares) if (items.some((item) => this.isFor(item, order))) meant += pieces;
        }
        if (meant) found.set(part, meant);
      }
      return found;
    });
  }

  isFor(item, order) {
    if (order < 0 || item.kind === KINDS.part) return false;
    if (item.kind === KINDS.order) return item.at === order;
    const asked = this.values.orders[order];
    return asked.isKit && asked.item === item.name;
  }

  /** Such as "12 pieces on 3 sheets". */
  counted(items) {
    const found = this.piecesOf(items);
    const pieces = sum(found.flatMap((parts) => [...parts.values()]));
    const sheets = found.filter((parts) => parts.size).length;
    return { found, pieces, sheets, said: `${many(pieces, "piece")} on ${many(sheets, "layout")}` };
  }
}

/** A text as it is compared: small letters, accents left out. */
function fold(text) {
  return text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
}

/** A text without hyphens and the like, so that H2046 finds H-2046. */
function bare(text) {
  return text.replace(/[^\p{L}\p{N}]/gu, "") || text;
}

function sum(numbers) {
  return numbers.reduce((all, one) => all + one, 0);
}

function many(count, word) {
  return `${count.toLocaleString("en-US")} ${word}${count === 1 ? "" : "s"}`;
}
