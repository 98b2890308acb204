// The page as people use it: the list, the sheet on the screen, finding, ticking, handing back.

const LONG_NAME = 40; // signs from which a name is set smaller, so that what is said of the piece is seen as well

const byId = (id) => document.getElementById(id);

/** An element with a text or children; texts are never taken for HTML. */
function made(tag, content = [], attributes = {}) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...[content].flat());
  return element;
}

const untilOf = (due) => (due ? [", due ", whole(due)] : []);

/** A name of the book, which may run from right to left. */
const named = (text) => made("bdi", text);

/** A date or a file, which is not broken at the end of a line. */
const whole = (text) => made("span", text, { class: "whole" });

function browserStore() {
  try {
    window.localStorage.getItem("");
    return window.localStorage;
  } catch {
    return null;
  }
}

/** A command as it is typed. */
const command = (...words) => made("code", words.flatMap((word) => [whole(word), " "]));

class Floor {
  constructor(values) {
    this.values = values;
    this.ledger = new Ledger(values, browserStore());
    this.finder = new Finder(values);
    this.cards = values.sheets.map((sheet) => byId(`sheet-${sheet.tag}`));
    this.shown = -1;
    this.picked = null;
    this.view = new View(byId("glass"), values, {
      tapped: (piece) => this.showPiece(piece),
      measured: (text) => this.showMeasured(text),
    });
    this.listen();
    this.renew();
    this.route();
    this.measureHead();
  }

  listen() {
    const click = (id, run) => byId(id).addEventListener("click", run);
    byId("find").addEventListener("input", () => {
      this.find(null);
      if (this.shown < 0) window.scrollTo(0, 0); // what is found begins at the top
    });
    click("larger", () => this.view.zoom(1.6));
    click("smaller", () => this.view.zoom(1 / 1.6));
    click("whole", () => this.view.fit());
    click("quarter", () => this.view.turn());
    click("ruler", () => this.toggleRuler());
    click("earlier", () => this.go(this.shown - 1));
    click("later", () => this.go(this.shown + 1));
    click("to-parts", () => byId("about").scrollIntoView());
    click("open-tick", () => this.openTick());
    click("open-back", () => this.openBack());
    click("save", () => this.save(this.ledger.handBack(new Date())));
    click("send", () => this.send());
    click("show-code", () => {
      const { name } = this.ledger.handBack(new Date());
      this.showCode(name);
      this.toast("Marked as handed back.", true);
    });
    click("undo", () => this.undo());
    byId("tick-form").addEventListener("submit", (event) => this.keepTick(event));
    document.addEventListener("click", (event) => this.clicked(event));
    window.addEventListener("hashchange", () => this.route());
    window.addEventListener("resize", () => this.measureHead());
    document.querySelector(".caution details").addEventListener("toggle", () => this.measureHead());
    window.addEventListener("storage", () => {
      this.ledger.read();
      this.renew();
    });
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && this.shown >= 0 && !document.querySelector("dialog[open]")) location.hash = "";
    });
  }

  clicked(event) {
    const button = event.target.closest?.("button");
    if (!button) return;
    if (button.dataset.close) byId(button.dataset.close).close();
    if (button.dataset.step) step(byId(button.dataset.for), Number(button.dataset.step));
  }

  measureHead() {
    const { style } = document.documentElement;
    const top = byId("top").offsetHeight;
    style.setProperty("--top", `${top}px`);
    style.setProperty("--head", `${top + document.querySelector(".caution").offsetHeight}px`);
  }

  // One sheet on the screen; the address says which, so that "back" goes back.

  route() {
    const tag = decodeURIComponent(location.hash.slice(1));
    let at = this.values.sheets.findIndex((sheet) => sheet.tag === tag);
    const isWide = window.matchMedia("(min-width: 1000px)").matches;
    if (at < 0 && isWide) at = 0;
    const before = this.shown;
    this.shown = at;
    byId("stage").hidden = at < 0;
    this.cards.forEach((card, place) => card.classList.toggle("shown", place === at));
    if (at < 0) {
      if (before >= 0) this.cards[before].querySelector("a").focus();
      return;
    }
    this.showSheet(this.values.sheets[at], this.cards[at]);
    if (tag && before !== at) byId("stage-title").focus({ preventScroll: true });
  }

  go(at) {
    if (this.values.sheets[at]) location.hash = this.values.sheets[at].tag;
  }

  showSheet(sheet, card) {
    byId("stage-title").replaceChildren(`${sheet.tag} `, made("span", sheet.size));
    byId("earlier").disabled = this.shown === 0;
    byId("later").disabled = this.shown === this.values.sheets.length - 1;
    byId("glass").setAttribute("aria-label", `Picture of ${sheet.tag}`);
    this.view.show(sheet, card.querySelector(".picture"));
    if (this.view.isRuling) this.view.rule(true);
    this.showHits();
    this.showPiece(null);
    this.showAbout(sheet);
    this.showState();
  }

  showAbout(sheet) {
    const rows = sheet.parts.map(([at, onSheet, inAll]) => {
      const part = this.values.parts[at];
      const button = made("button", [...letterOf(part), named(part.name)], { type: "button" });
      button.addEventListener("click", () => this.showKind(at));
      return made("tr", [
        made("td", button), made("td", String(onSheet), { class: "count" }), made("td", String(inAll), { class: "count" }),
      ]);
    });
    const head = ["Part", "On a sheet", "In all"].map((text) => made("th", text, { scope: "col" }));
    const ticks = made("ul", [], { id: "told", class: "lines" });
    const orders = sheet.orders.map(([name, due]) => made("li", [named(name), ...untilOf(due)]));
    const facts = made("dl", sheet.work.flatMap(([heading, text]) => [made("dt", heading), made("dd", text)]));
    facts.append(made("dt", "Weight of a sheet"), made("dd", sheet.weight), made("dt", "Drawing"), made("dd", sheet.drawing));
    byId("about").replaceChildren(
      ticks,
      ...list("Cautions for this metal", sheet.cautions),
      ...list("Squaring", sheet.squaring),
      ...list("Stays for the rack", sheet.stays),
      made("h3", "Parts on it"),
      made("table", [made("thead", made("tr", head)), made("tbody", rows)]),
      ...(orders.length ? [made("h3", "Cut for"), made("ul", orders, { class: "plain-list" })] : []),
      made("details", [made("summary", "Cutting"), facts, ...list("Look for", sheet.checks)]),
    );
  }

  /** What a piece is, and for whom. */
  showPiece(piece) {
    byId("piece").replaceChildren(...(piece ? [this.pieceCard(this.view.partOf(piece))] : []));
  }

  showKind(at) {
    const piece = this.view.pieces.find((one) => this.view.partOf(one) === at);
    byId("glass").scrollIntoView({ block: "nearest" });
    this.view.choose(piece);
    this.view.reveal(piece);
  }

  pieceCard(at) {
    const part = this.values.parts[at];
    const sheet = this.values.sheets[this.shown];
    const [, onSheet, inAll, shares] = sheet.parts.find(([number]) => number === at);
    const uses = shares.map(([order, pieces]) => made("li", [`${pieces} for `, ...this.purpose(order)]));
    const rows = [
      ["Size", part.size], ["Weight", part.weight], ["Holes", part.holes],
      ["On a sheet", String(onSheet)], ["In all", String(inAll)],
    ];
    if (part.kit) rows.unshift(["Kit", named(part.kit)]);
    const find = made("button", "Find all of them", { type: "button" });
    find.addEventListener("click", () => {
      byId("find").value = part.name;
      this.find({ kind: KINDS.part, name: part.name, at });
    });
    const shut = made("button", "\u00d7", { type: "button", class: "shut", "aria-label": "Close" });
    shut.addEventListener("click", () => this.view.choose(null));
    return made("div", [
      made("h3", [...letterOf(part), named(part.name)], { class: part.name.length > LONG_NAME ? "long" : "" }),
      shut,
      ...(part.description ? [made("p", named(part.description))] : []),
      made("dl", rows.map(([word, value]) => made("div", [made("dt", word), made("dd", value)]))),
      made("ul", uses, { class: "plain-list" }),
      find,
    ], { class: "piece" });
  }

  purpose(order) {
    if (order < 0) return ["no order: spare"];
    const asked = this.values.orders[order];
    return [
      "order ", named(asked.name), ...(asked.isKit ? [", ", named(asked.item)] : []), ...untilOf(asked.due),
    ];
  }

  toggleRuler() {
    const isRuling = !this.view.isRuling;
    byId("ruler").setAttribute("aria-pressed", String(isRuling));
    this.view.rule(isRuling);
  }

  showMeasured(text) {
    byId("measured").hidden = !text;
    byId("measured").textContent = text;
  }

  // Finding.

  /** Light up what the text means, or one thing of all that it may mean. */
  find(item) {
    const text = byId("find").value;
    const matching = this.finder.matching(text);
    const items = item ? [item] : matching;
    const isSeeking = text.trim() !== "";
    const { found, said } = this.finder.counted(items);
    this.hits = isSeeking ? found : null;
    byId("found-count").textContent = !isSeeking ? "" : items.length ? said : "Nothing of that name is cut in this plan.";
    byId("found").replaceChildren(...(isSeeking && matching.length > 1 ? this.foundButtons(matching, item) : []));
    this.cards.forEach((card, at) => {
      const parts = this.hits ? this.hits[at] : null;
      card.classList.toggle("away", parts !== null && !parts.size);
      lightUp(card.querySelector(".picture"), this.values, parts);
      const badge = card.querySelector(".hits");
      badge.hidden = !parts?.size;
      badge.textContent = parts?.size ? this.hitsText(at, parts) : "";
    });
    document.querySelectorAll(".day").forEach((day) => {
      const isEmpty = ![...day.nextElementSibling.children].some((card) => !card.classList.contains("away"));
      day.classList.toggle("away", isEmpty);
    });
    if (this.shown >= 0) this.showHits();
    this.measureHead();
  }

  foundButtons(matching, item) {
    const shown = matching.slice(0, MOST_SHOWN).map((one) => {
      const isPicked = item !== null && one.kind === item.kind && one.at === item.at;
      const button = made("button", [`${one.kind} `, named(one.name), `: ${this.finder.counted([one]).said}`], {
        type: "button", "aria-pressed": String(isPicked),
      });
      button.addEventListener("click", () => this.find(isPicked ? null : one));
      return made("li", button);
    });
    const more = matching.length - shown.length;
    return more > 0 ? [...shown, made("li", `and ${more} more: type a little more`)] : shown;
  }

  /** On the sheet that is shown: which pieces are lit, and that something is sought at all. */
  showHits() {
    const parts = this.hits ? this.hits[this.shown] : null;
    this.view.light(parts);
    byId("stage-hits").hidden = parts === null;
    if (parts === null) return;
    const said = parts.size ? this.hitsText(this.shown, parts) : "none here";
    byId("stage-hits").replaceChildren(named(byId("find").value.trim()), `: ${said}`);
  }

  hitsText(at, parts) {
    const meant = sum([...parts.values()]);
    const all = sum(this.values.sheets[at].parts.filter(([part]) => parts.has(part)).map(([, , inAll]) => inAll));
    return meant === all ? many(meant, "piece") : `${meant} of the ${many(all, "piece")} lit`;
  }

  // Ticking.

  openTick() {
    const sheet = this.values.sheets[this.shown];
    const left = sheet.times - this.ledger.timesOf(sheet.tag);
    byId("tick-title").textContent = `${sheet.tag} is cut`;
    byId("tick-told").replaceChildren(named(sheet.gauge), `, ${sheet.size}: ${many(left, "sheet")} still to cut.`);
    Object.assign(byId("times"), { value: left, max: left });
    byId("heat").value = "";
    byId("note").value = "";
    byId("by").value = this.ledger.by;
    Object.assign(byId("day"), { value: localTime(new Date()).slice(0, 10), max: localTime(new Date()).slice(0, 10) });
    byId("tick-wrong").textContent = "";
    byId("bad").replaceChildren(...sheet.parts.map(([at, onSheet]) => this.badRow(at, onSheet * left)));
    if (this.undone?.sheet === sheet.tag) this.fillAgain(this.undone);
    byId("tick").showModal();
  }

  /** What was typed of a tick that was undone, so that nobody types it twice. */
  fillAgain({ heat, note, day, bad }) {
    for (const [id, value] of Object.entries({ heat, note, day })) byId(id).value = value;
    for (const [at, count] of bad) byId(`bad-${at}`).value = count;
  }

  badRow(at, most) {
    const part = this.values.parts[at];
    const id = `bad-${at}`;
    const input = made("input", [], { id, type: "number", inputmode: "numeric", min: "0", "data-most": most, step: "1", value: "0" });
    const button = (by, sign, word) =>
      made("button", sign, { type: "button", "data-step": by, "data-for": id, "aria-label": `One bad ${word}: ${part.name}` });
    return made("li", [
      made("label", [...letterOf(part), named(part.name)], { for: id }),
      made("span", [button("-1", "\u2212", "piece fewer"), input, button("1", "+", "piece more")], { class: "steps" }),
    ]);
  }

  keepTick(event) {
    event.preventDefault();
    const sheet = this.values.sheets[this.shown];
    const left = sheet.times - this.ledger.timesOf(sheet.tag);
    const times = Number(byId("times").value);
    const bad = sheet.parts.map(([at, onSheet]) => [at, Number(byId(`bad-${at}`).value || 0), onSheet * times]);
    const wrong = tickFault(times, left, bad, this.values);
    byId("tick-wrong").textContent = wrong;
    if (wrong) return;
    this.ledger.add({
      sheet: sheet.tag, times,
      bad: bad.filter(([, count]) => count).map(([at, count]) => [at, count]),
      heat: tidy(byId("heat").value), by: tidy(byId("by").value), day: byId("day").value, note: tidy(byId("note").value),
    });
    this.undone = null;
    byId("tick").close();
    this.renew();
    const spoilt = sum(bad.map(([, count]) => count));
    const told = spoilt ? `, ${many(spoilt, "piece")} bad` : "";
    this.toast(`${sheet.tag}: ${many(times, "sheet")} ticked as cut${told}. Hand it back when you are done.`, true);
  }

  undo() {
    const before = this.ledger.ticks;
    this.ledger.undo();
    this.undone = before.find((tick) => !this.ledger.ticks.some((one) => one.id === tick.id)) ?? null;
    this.coded = "";
    this.renew();
    this.toast("Undone.", false);
  }

  /** Say it at the foot of the page for a while. */
  toast(text, canUndo) {
    const where = document.querySelector("dialog[open]") ?? document.body;
    where.append(byId("toast"));
    byId("toast-text").textContent = text;
    this.undoable = canUndo ? this.ledger.ticks : null;
    byId("undo").hidden = !canUndo;
    byId("toast").classList.add("up");
    clearTimeout(this.fading);
    this.fading = setTimeout(() => byId("toast").classList.remove("up"), 12000);
  }

  /** Put all that depends on the ticks in agreement with them. */
  renew() {
    this.values.sheets.forEach((sheet, at) => {
      const done = this.ledger.timesOf(sheet.tag);
      const card = this.cards[at];
      card.classList.toggle("cut", done >= sheet.times);
      card.querySelector(".state").textContent = stateText(done, sheet.times);
    });
    if (this.ledger.ticks !== this.undoable) byId("undo").hidden = true; // it would undo what came after
    const { waiting } = this.ledger;
    byId("waiting").textContent = waiting.length ? `(${waiting.length})` : "";
    if (this.shown >= 0) this.showState();
    if (byId("back").open) this.showBack();
  }

  showState() {
    const sheet = this.values.sheets[this.shown];
    const done = this.ledger.timesOf(sheet.tag);
    const day = done >= sheet.times ? [", cut"] : sheet.day ? [", to be cut ", whole(sheet.day)] : [];
    byId("stage-facts").replaceChildren(named(sheet.gauge), ", ", named(sheet.on), `, ${sheet.from}`, ...day);
    const button = byId("open-tick");
    button.disabled = done >= sheet.times;
    button.textContent = done >= sheet.times ? "All cut" : sheet.times > 1 ? `Sheet is cut (${done} of ${sheet.times})` : "Sheet is cut";
    byId("told")?.replaceChildren(...this.ledger.of(sheet.tag).map((tick) => this.tickLine(tick)));
  }

  tickLine(tick) {
    const button = made("button", "Take back", { type: "button", "aria-label": `Take back ${this.tickText(tick)}` });
    button.addEventListener("click", () => {
      this.ledger.remove(tick.id);
      this.renew();
      this.toast(`${tick.sheet}: taken back.`, true);
    });
    const said = this.tickText(tick).split(tick.day);
    return made("li", [made("span", [said[0], whole(tick.day), said.slice(1).join(tick.day)]), ...(tick.file ? [] : [button])]);
  }

  tickText(tick) {
    const bad = tick.bad.map(([at, count]) => `${count} bad ${this.values.parts[at].name}`);
    const told = [
      `${tick.sheet}: ${many(tick.times, "sheet")}`, ...bad, tick.heat && `heat ${tick.heat}`, tick.by && `by ${tick.by}`,
      tick.day, tick.note, tick.file && "handed back",
    ];
    return told.filter(Boolean).join(", ");
  }

  // Handing back.

  openBack() {
    this.coded = "";
    this.showBack();
    byId("back").showModal();
  }

  showBack() {
    const { waiting, files, keeps } = this.ledger;
    const said = waiting.length
      ? `${many(waiting.length, "line")} to hand back. The file goes to whoever keeps the book.`
      : "Nothing is waiting to be handed back.";
    byId("back-told").textContent = keeps ? said : `${said} This browser keeps nothing: hand back before you close the page.`;
    byId("back-lines").className = "lines";
    byId("back-lines").replaceChildren(...waiting.map((tick) => this.tickLine(tick)));
    byId("save").hidden = !waiting.length;
    byId("send").hidden = !canSend() || !waiting.length;
    byId("show-code").hidden = !waiting.length || !isShort(this.ledger.codeToCome);
    byId("code").hidden = !this.coded;
    const rows = files.map((name) => this.fileLine(name));
    byId("back-files").replaceChildren(
      ...(rows.length
        ? [
            made("h3", "Files so far"), made("ul", rows, { class: "lines" }),
            made("p", ["Where the book lies: ", command("sheetplan", "cut", this.values.book, "--from", files.at(-1))]),
            made("p", "A line that is handed back is put right there, not here."),
          ]
        : []),
    );
  }

  fileLine(name) {
    const again = made("button", "Save again", { type: "button", "aria-label": `Save ${name} again` });
    again.addEventListener("click", () => this.save({ name, text: this.ledger.fileText(name) }));
    const code = made("button", "Code", { type: "button", "aria-label": `Show ${name} as a code` });
    code.addEventListener("click", () => this.showCode(name));
    code.hidden = !isShort(this.ledger.codeText(name));
    const lines = this.ledger.ticks.filter((tick) => tick.file === name).length;
    return made("li", [made("span", [whole(name), `, ${many(lines, "line")}`]), again, code]);
  }

  /** A file as a code, for a telephone that takes its text to where the book lies. */
  showCode(name) {
    this.coded = name;
    byId("code").replaceChildren(
      codeOf(this.ledger.codeText(name), `Code of ${name}`),
      made("figcaption", [
        "This code holds all of ", whole(name), " as text. Read it with a telephone and bring the text to where the book lies: ",
        command("sheetplan", "cut", this.values.book, "--from", "-"), "takes it as it is pasted.",
      ]),
    );
    this.renew();
    byId("code").focus();
  }

  save({ name, text }) {
    const link = made("a", [], { download: name });
    link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    this.renew();
    this.toast(`${name} is saved.`, false);
  }

  async send() {
    const { name, text } = this.ledger.handBack(new Date());
    this.renew();
    try {
      await navigator.share({ files: [new File([text], name, { type: "application/json" })], title: name });
    } catch {
      this.toast("Not sent. It stands below: save it again.", false);
    }
  }
}

function canSend() {
  try {
    return navigator.canShare?.({ files: [new File([""], "cut.json", { type: "application/json" })] }) ?? false;
  } catch {
    return false;
  }
}

/** Why a tick cannot be kept; empty where it can. */
function tickFault(times, left, bad, values) {
  if (!Number.isInteger(times) || times < 1) return "Say how many sheets were cut: one at least.";
  if (times > left) return `Only ${many(left, "sheet")} still to cut.`;
  for (const [at, count, most] of bad) {
    const { name } = values.parts[at];
    if (!Number.isInteger(count) || count < 0) return `${name}: pieces are counted in whole numbers.`;
    if (count > most) return `${name}: ${many(most, "piece")} cut, so ${count} cannot be bad.`;
  }
  return "";
}

function stateText(done, times) {
  if (done >= times) return "cut";
  return done ? `${done} of ${times} cut` : "to cut";
}

function letterOf(part) {
  return part.letter ? [made("span", part.letter, { class: `letter k${part.fill}` })] : [];
}

function list(title, texts) {
  return texts.length
    ? [made("h3", title), made("ul", texts.map((text) => made("li", text)), { class: "plain-list" })]
    : [];
}

/** One more or one less in a field of a number, within what it may be. */
function step(input, by) {
  const value = (Number(input.value) || 0) + by;
  const most = Number(input.dataset.most || input.max || Infinity);
  input.value = Math.min(most, Math.max(Number(input.min), value));
}

function start() {
  document.documentElement.classList.add("works");
  new Floor(JSON.parse(byId("values").textContent));
}
