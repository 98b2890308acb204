// What was ticked at the table: kept in the browser, taken back, and handed back to the book as a file.
//
// A tick is one layout cut once or several times: {id, sheet, times, bad: [[part, pieces], ...], heat, by, day,
// note, file}. `file` is the name of the file in which it was handed back, empty until then.

const LONGEST_TEXT = 300;
const UNDO_STEPS = 50;
const FILE_FORMAT = 1;

/** CRC-32 of a text in UTF-8, as eight hexadecimal digits (ISO/IEC/IEEE 8802-3, as zlib has it). */
function checkOf(text) {
  let crc = ~0;
  for (const byte of new TextEncoder().encode(text)) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return (~crc >>> 0).toString(16).padStart(8, "0");
}

/** A typed text without what no cell can hold. */
function tidy(text) {
  const whole = typeof text.toWellFormed === "function" ? text.toWellFormed() : text;
  return [...whole.replace(/[\p{Cc}\p{Cs}\ufffe\uffff]/gu, " ").trim()].slice(0, LONGEST_TEXT).join("");
}

/** The values of a hand-back file. `check` is over all before it, written without spaces. */
function handBackValues(plan, book, told, lines) {
  const body = { sheetplan: "hand back", format: FILE_FORMAT, plan, book, told, lines };
  return { ...body, check: checkOf(JSON.stringify(body)) };
}

/** Values as JSON in one line of plain signs, which no scanner, message or cell writes otherwise. */
function plainText(values) {
  const number = (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, "0")}`;
  return JSON.stringify(values).replace(/[\u007f-\uffff]| (?= )/g, number);
}

class Ledger {
  /** `store` is the browser's own, or null where it keeps nothing. */
  constructor(values, store) {
    this.values = values;
    this.store = store;
    this.key = `sheetplan ${values.book} ${values.plan}`;
    this.keeps = store !== null;
    this.read();
  }

  read() {
    const nothing = { ticks: [], before: [], by: "" };
    try {
      const text = this.store?.getItem(this.key);
      const held = text ? JSON.parse(text) : nothing;
      this.state = Array.isArray(held.ticks) && Array.isArray(held.before) ? held : nothing;
    } catch {
      this.state = nothing;
    }
  }

  write() {
    try {
      this.store?.setItem(this.key, JSON.stringify(this.state));
    } catch {
      this.keeps = false;
    }
  }

  get ticks() {
    return this.state.ticks;
  }

  get by() {
    return this.state.by;
  }

  /** Ticks that are in no file yet. */
  get waiting() {
    return this.ticks.filter((tick) => !tick.file);
  }

  get files() {
    return [...new Set(this.ticks.map((tick) => tick.file).filter(Boolean))];
  }

  of(sheet) {
    return this.ticks.filter((tick) => tick.sheet === sheet);
  }

  timesOf(sheet) {
    return this.of(sheet).reduce((times, tick) => times + tick.times, 0);
  }

  /** Put other ticks in the place of these; the change can be undone. */
  change(ticks, by = this.state.by) {
    const before = [...this.state.before, this.state.ticks].slice(-UNDO_STEPS);
    this.state = { ticks, before, by };
    this.write();
  }

  add(tick) {
    const bytes = crypto.getRandomValues(new Uint8Array(8));
    const id = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    this.change([...this.ticks, { ...tick, id, file: "" }], tick.by);
  }

  remove(id) {
    this.change(this.ticks.filter((tick) => tick.id !== id));
  }

  get canUndo() {
    return this.state.before.length > 0;
  }

  undo() {
    const before = [...this.state.before];
    this.state = { ...this.state, ticks: before.pop(), before };
    this.write();
  }

  /** Name and text of a file with all ticks that wait; they are marked as handed back in it. */
  handBack(now) {
    const stamp = localTime(now);
    const name = `cut-${this.values.plan}-${stamp.replace(/[-:]/g, "").replace("T", "-")}.json`;
    const waiting = new Set(this.waiting);
    this.change(this.ticks.map((tick) => (waiting.has(tick) ? { ...tick, file: name, told: stamp } : tick)));
    return { name, text: this.fileText(name) };
  }

  /** The text of a file with the ticks that were handed back in it. */
  fileText(name) {
    return `${JSON.stringify(this.fileValues(name), null, 1)}\n`;
  }

  /** The same values as the file's, in one line for a code. */
  codeText(name) {
    return plainText(this.fileValues(name));
  }

  /** That line for the ticks that wait, were they handed back now. */
  get codeToCome() {
    return plainText(this.valuesOf(this.waiting, localTime(new Date())));
  }

  fileValues(name) {
    const ticks = this.ticks.filter((tick) => tick.file === name);
    return this.valuesOf(ticks, ticks[0].told);
  }

  valuesOf(ticks, told) {
    const tickets = new Map(this.values.sheets.map((sheet) => [sheet.tag, sheet.ticket]));
    const lines = ticks.map((tick) => ({
      id: tick.id,
      ticket: tickets.get(tick.sheet) ?? tick.sheet,
      times: tick.times,
      bad: tick.bad.map(([part, pieces]) => [this.values.parts[part].name, pieces]),
      heat: tick.heat,
      by: tick.by,
      day: tick.day,
      note: tick.note,
    }));
    return handBackValues(this.values.plan, this.values.book, told, lines);
  }
}

/** The local time to the second, such as 2026-11-29T10:12:05. */
function localTime(now) {
  const two = (number) => String(number).padStart(2, "0");
  const day = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  return `${day}T${two(now.getHours())}:${two(now.getMinutes())}:${two(now.getSeconds())}`;
}
