/* The tablet at a sitting: holds the state of the window, keeps every tap, then draws. */
import { button, el, refusal, status } from "./dom.js";
import * as flow from "./flow.js";
import * as leaving from "./leaving.js";
import { list } from "./list.js";
import * as photographs from "./photos.js";
import { Queue, ask } from "./queue.js";
import { allQuestions, question } from "./screens.js";
import * as store from "./store.js";
import * as words from "./words.js";

const PACK = "/tablet/pack/";
const FRESH_MS = 600_000;
const root = document.getElementById("main");
const said = document.getElementById("said");
const { logIn, logOut, desk, worker } = document.body.dataset;

const state = {
  held: { pack: null, pack_at: null, skew_ms: 0, storage: null },
  visits: new Map(),
  sitting: null, // the open sitting's pk
  unsent: { words: "", oldest: null },
  photos: [],
  told: [],
  draft: {},
  loading: false,
  saving: false,
  busyPhoto: false,
  wiping: false,
  trouble: "",
  refused: "",
};

const queue = new Queue({
  learn: (visit, entry, answer) => (entry.sitting === visit.sitting ? flow.answered(visit, entry, answer) : visit),
  changed: () => refresh().then(() => draw({ quietly: true }), broken),
});

// --- what is held ------------------------------------------------------------------------------------

/** Reads the counts and the visits anew; two readings never overtake one another. */
let reading = Promise.resolve();
function refresh() {
  reading = reading.catch(() => {}).then(async () => {
    const [entries, photos, told, visits] = await Promise.all([store.entries(), store.photos(), store.told(), store.visits()]);
    const going = photos.filter((photo) => photo.state !== "refused");
    const parts = [entries.length && words.count(entries.length, "answer"), going.length && words.count(going.length, "photograph")];
    const times = [...entries, ...photos].map((each) => Date.parse(each.said_at));
    state.unsent = { words: parts.filter(Boolean).join(" and "), oldest: times.length ? Math.min(...times) : null };
    state.photos = photos;
    state.told = told;
    if (!state.saving) state.visits = new Map(visits.map((visit) => [visit.sitting, visit]));
  });
  return reading;
}

/** What the flow needs to know about a sitting, out of the pack. */
function contextOf(pk) {
  const { pack } = state.held;
  const sitting = pack?.visit.sittings.find((each) => each.pk === pk);
  if (!sitting) return null;
  const order = pack.money?.orders[sitting.job] ?? null;
  const others = [...state.visits.values()].filter((visit) => visit.sitting !== pk).flatMap((visit) => visit.limbs);
  return {
    sitting,
    visit_words: pack.visit,
    money: pack.money,
    order,
    list: order && pack.money.lists[order.list],
    percent: pack.unit.deposit_percent,
    currency: pack.unit.currency,
    clay_rest_hours: pack.unit.clay_rest_hours,
    sizes: pack.sizes,
    trays: [...pack.visit.trays_used, ...others.filter((limb) => limb.outcome === "taken").map((limb) => limb.tray)],
  };
}

/** Brings the pack up to date, and the visits with it where this tablet has nothing to say. */
async function takeAlong() {
  if (state.loading) return;
  state.loading = true;
  state.trouble = "";
  draw({ quietly: true });
  try {
    await queue.send({ now: true });
    const pack = await freshPack();
    state.held = { ...state.held, pack, pack_at: Date.now(), skew_ms: Date.now() - Date.parse(pack.made_at) };
    await store.set({ pack, pack_at: state.held.pack_at, skew_ms: state.held.skew_ms });
    await bringUpToDate();
    await refresh();
    say(`Taken along: ${words.count(pack.visit.sittings.length, "sitting")}.`);
  } catch (trouble) {
    if (trouble.name === "LoggedOut") queue.loggedOut = true;
    else state.trouble = trouble.status ? trouble.message : state.held.pack ? "" : "The studio cannot be reached. Find a signal once, so that the sittings can be taken along.";
    say(state.held.pack ? "The studio cannot be reached; what was taken along before still stands here." : state.trouble);
  }
  state.loading = false;
  draw({ quietly: true });
}

/** A pack that no answer overtook while it was on its way. */
async function freshPack() {
  for (;;) {
    const before = queue.answers;
    const pack = await ask(PACK);
    if (queue.answers === before) return pack;
  }
}

async function bringUpToDate() {
  const [visits, entries, told] = await Promise.all([store.visits(), store.entries(), store.told()]);
  const unsent = (visit) => entries.filter((entry) => entry.sitting === visit.sitting);
  const known = visits.filter((visit) => contextOf(visit.sitting));
  await store.renew(
    known.map((visit) => flow.renewed(visit, contextOf(visit.sitting), unsent(visit))),
    visits.filter((visit) => !known.includes(visit) && !unsent(visit).length && visit.sitting !== state.sitting).map((visit) => visit.sitting),
  );
  // The pack names what is still to be settled; only what never reached home stays from before.
  await store.remove("told", told.filter((row) => row.resolve).map((row) => row.key));
}

function unsettled() {
  const ofPack = (state.held.pack?.visit.sittings ?? []).flatMap((sitting) =>
    (sitting.unsettled ?? []).map((each) => ({ ...each, sitting: sitting.pk, resolve: each.resolve ?? each.key, facts: each.mine, version: each.theirs?.version ?? null })),
  );
  const here = state.told.filter((row) => !ofPack.some((each) => each.key === row.key));
  return [...ofPack, ...here].map((each) => ({ ...each, ...wordsOf(each) }));
}

function wordsOf(each) {
  const context = contextOf(each.sitting);
  if (!context || each.kind !== "impression") return {};
  const limb = context.sitting.impressions.find((one) => one.pk === each.facts?.impression);
  if (!limb) return {};
  const { outcome, tray, length_mm } = each.facts;
  const mine = [context.visit_words.outcomes[outcome], tray && outcome === "taken" && `tray ${tray}`, length_mm && `${length_mm} mm`];
  return { subjectWords: flow.nameOf(context, limb), mine_words: each.mine_words || mine.filter(Boolean).join(", ") };
}

// --- taps --------------------------------------------------------------------------------------------

/** Keeps what was said, and only then shows the next question. A second tap meanwhile is not heard. */
async function tap(tapped) {
  if (state.saving) return;
  state.saving = true;
  state.refused = "";
  const told = { at: new Date().toISOString(), key: crypto.randomUUID(), ...tapped };
  let spoken = "";
  try {
    spoken = await written(told, state.visits.get(state.sitting));
  } catch (trouble) {
    state.refused = trouble instanceof RangeError ? trouble.message : `This was not kept: the tablet’s storage refused it (${trouble.name}). Nothing was changed; press it again, or make room on the tablet.`;
    if (trouble instanceof store.ChangedElsewhere) state.refused = "This sitting went on in another window. Here is how it stands now; press again.";
  }
  state.saving = false;
  await refresh().catch(broken);
  draw({ spoken });
  if (spoken) queue.send({ now: true });
}

async function written(tapped, visit, again = true) {
  const context = contextOf(visit.sitting);
  const { visit: next, said: facts, words: spoken } = flow.tap(visit, context, tapped);
  const entries = facts.map((each) => ({ key: crypto.randomUUID(), ...each, seen: each.seen ?? null, sitting: visit.sitting, said_at: tapped.at }));
  try {
    state.visits.set(visit.sitting, await store.keep(next, entries));
  } catch (trouble) {
    const stored = (await store.visits()).find((each) => each.sitting === visit.sitting);
    // An answer from home only renewed what is known: the same tap holds for that as well.
    if (!(trouble instanceof store.ChangedElsewhere) || !again || stored?.at !== visit.at) throw trouble;
    return written(tapped, stored, false);
  }
  state.draft = {};
  return spoken || " ";
}

async function photo(limb, input) {
  const file = input.files[0];
  if (!file || state.busyPhoto) return;
  state.busyPhoto = true;
  state.refused = "";
  draw();
  let spoken = "";
  try {
    const picture = await photographs.small(file);
    const sha256 = await photographs.digest(picture.bytes);
    const { sitting } = contextOf(state.sitting);
    const row = { key: crypto.randomUUID(), ...picture, sha256, sitting: sitting.pk, job: sitting.job, piece: limb.piece, kind: "sitting", said_at: new Date().toISOString() };
    const visit = (await store.visits()).find((each) => each.sitting === sitting.pk);
    await store.keep(visit, [], row);
    spoken = "The photograph is kept on this tablet.";
  } catch (trouble) {
    state.refused = trouble instanceof RangeError ? trouble.message : "The photograph could not be kept: the tablet may be full. Make room, and take it again.";
  }
  state.busyPhoto = false;
  await refresh().catch(broken);
  draw({ spoken });
  queue.send({ now: true });
}

async function openSitting(pk) {
  const context = contextOf(pk);
  if (!context) return leave();
  try {
    if (!state.visits.has(pk)) state.visits.set(pk, await store.keep(flow.begin(context), []));
    await store.set({ open: pk });
  } catch (trouble) {
    return broken(trouble);
  }
  state.sitting = pk;
  state.draft = {};
  if (history.state?.sitting !== pk) history.pushState({ sitting: pk }, "", `#${pk}`);
  draw({ top: true });
}

async function leave() {
  if (history.state?.sitting) return history.back(); // and on in popstate
  return toList();
}

async function toList() {
  state.sitting = null;
  state.refused = "";
  await store.set({ open: null }).catch(broken);
  await refresh().catch(broken);
  draw({ top: true });
  if (Date.now() - state.held.pack_at > FRESH_MS && navigator.onLine) takeAlong();
}

// --- settling, handing over, wiping ----------------------------------------------------------------

async function settle(each, choice) {
  try {
    const answer = await ask(`/tablet/resolve/${each.resolve}/`, { method: "POST", json: { choice, seen: each.version ?? null } });
    if (answer.state === "settled") await settledAs(each, choice, answer);
    else await store.put("told", { ...each, ...answer, key: each.key });
    await takeAlong();
  } catch (trouble) {
    state.trouble = trouble.status ? trouble.message : "The studio cannot be reached: this can be chosen once there is a signal. Nothing is lost.";
    if (trouble.name === "LoggedOut") queue.loggedOut = true;
  }
  draw();
}

async function settledAs(each, choice, answer) {
  await store.remove("told", [each.key]);
  const visit = state.visits.get(each.sitting);
  const facts = choice === "mine" ? each.facts : each.theirs;
  if (!visit || each.kind !== "impression" || !facts) return;
  await store.renew([flow.chosen(visit, each.facts.impression, facts, answer.version)]);
}

async function handOver() {
  await leaving.given(await leaving.queueFile(state.held.skew_ms ?? 0, words.localDay(Date.now(), zone())));
  say("The file is made. Everything stays on this tablet until it has reached home.");
}

async function wipe() {
  if (await leaving.logOutAndWipe(logOut)) return location.assign(logIn);
  root.replaceChildren(el("div", { class: "question sit" }, el("h1", { class: "question__ask", tabindex: "-1" }, "This tablet is wiped"), el("p", {}, "The studio could not be told: log out there when there is a signal.")));
  return root.querySelector("h1").focus();
}

// --- drawing -----------------------------------------------------------------------------------------

const zone = () => state.held.pack?.unit.time_zone ?? "Europe/London";
let shown = "";
let pressing = false;
let owed = false;

// A button that is drawn anew under the thumb would not be pressed: news from home waits so long.
addEventListener("pointerdown", () => (pressing = true), true);
for (const end of ["pointerup", "pointercancel"]) {
  addEventListener(end, () => setTimeout(released), true);
}

function released() {
  pressing = false;
  if (owed) draw({ quietly: true });
}

/** Draws the window. `quietly`: nobody pressed anything, so a question that is being answered stays. */
function draw({ spoken = "", top = false, quietly = false } = {}) {
  owed = quietly && pressing;
  if (owed) return;
  const visit = state.sitting && state.visits.get(state.sitting);
  const context = visit && contextOf(state.sitting);
  const step = context ? `${state.sitting} ${visit.at}` : "list";
  const moved = step !== shown;
  if (quietly && context && !moved) {
    document.getElementById("safe").replaceChildren(...safe());
    document.getElementById("news").replaceChildren(...news(visit));
    return;
  }
  const focused = document.activeElement?.id;
  const open = new Set([...root.querySelectorAll("details[open][id]")].map((each) => each.id));
  const typed = moved ? null : document.activeElement?.matches?.("input[type=text]") && { id: focused, value: document.activeElement.value, at: document.activeElement.selectionStart };
  const heading = context ? sittingScreen(visit, context) : listScreen();
  if (!moved) for (const id of open) root.querySelector(`details[id="${CSS.escape(id)}"]`)?.setAttribute("open", "");
  restore({ moved, focused, typed, top });
  if (spoken.trim()) say(moved ? `${spoken} Safe on this tablet. ${heading}` : spoken);
  shown = step;
}

function restore({ moved, focused, typed, top }) {
  const alarm = state.refused && root.querySelector(".refused");
  const same = focused && document.getElementById(focused);
  if (typed && same) {
    same.value = typed.value;
    same.focus({ preventScroll: true });
    same.setSelectionRange(typed.at, typed.at);
  } else if (alarm) alarm.focus();
  else if (moved) root.querySelector("h1").focus({ preventScroll: true });
  else if (same) same.focus({ preventScroll: true });
  if (moved || top) scrollTo(0, 0);
}

function sittingScreen(visit, context) {
  const ui = {
    visit,
    context,
    zone: zone(),
    tap,
    photo,
    leave,
    photos: state.photos,
    busyPhoto: state.busyPhoto,
    draft: state.draft,
    money: (minor) => words.money(minor, context.currency),
    lookNow: (look) => ({ ...look, ...state.draft }),
    redraft: (part, again = true) => {
      state.draft = { ...state.draft, ...part };
      if (again) draw();
    },
  };
  const { who, place, ask: asked, body, wide } = question(ui);
  document.title = `${asked} · ${who} · Caststead`;
  const clock = visit.began_at && !visit.finished && el("span", { class: "sit__clock", role: "timer", "aria-label": "Since the beginning", "data-from": visit.began_at });
  root.replaceChildren(
    el(
      "div",
      { class: `question sit${wide ? " sit--wide" : ""}`, id: "question", "data-step": visit.at },
      el("p", { class: "question__who sit__who" }, el("b", {}, who), el("span", { class: "question__place" }, place, clock && " · ", clock)),
      el("h1", { class: "question__ask", tabindex: "-1" }, asked),
      state.refused && refusal(state.refused),
      body,
      allQuestions(ui),
      foot(visit, context),
    ),
  );
  tick();
  return `${asked} ${who}.`;
}

/** What came back from home about this sitting and waits for a person. */
function news(visit) {
  const here = unsettled().filter((each) => each.sitting === visit.sitting).length;
  if (!here) return [];
  return [status("late", `${words.count(here, "answer")} of this sitting ${here === 1 ? "waits" : "wait"} for your choice.`), button("Choose", leave, { id: "choose" })];
}

function foot(visit, context) {
  const steps = flow.way(visit, context);
  const back = steps[steps.indexOf(visit.at) - 1];
  const undo = flow.undoWords(visit);
  const skips = !["summary", "over"].includes(visit.at);
  return el(
    "footer",
    { class: "sit__foot" },
    el("p", { class: "sit__safe", id: "safe" }, safe()),
    el("div", { class: "spread", id: "news" }, news(visit)),
    el(
      "div",
      { class: "acts" },
      undo && button(`Undo: ${undo}`, () => tap({ do: "undo" }), { id: "undo" }),
      back && button("Back", () => tap({ do: "go", to: back }), { id: "back" }),
      skips && button(flow.isOpen(visit, visit.at) ? "Leave it open" : "Go on", () => tap({ do: "skip" }), { id: "skip" }),
      button("Sittings", leave, { id: "sittings", variant: "bare" }),
    ),
  );
}

/** The line that says where the answers are. */
function safe() {
  const { words: waiting } = state.unsent;
  if (queue.loggedOut) {
    const left = waiting ? ` ${words.capital(waiting)} not sent: log in again.` : " You are logged out.";
    return [status("late", `Safe on this tablet.${left}`), " ", el("a", { class: "sit__log-in", href: logIn }, "Log in again")];
  }
  if (waiting) return [status("info", `Safe on this tablet. ${words.capital(waiting)} not sent yet.`)];
  return [status("done", "Already at home, every answer.")];
}

function listScreen() {
  const { ask: asked, lead, body } = list({
    ...state,
    queue,
    unsettled: unsettled(),
    refusedPhotos: state.photos.filter((photo_) => photo_.state === "refused"),
    logIn,
    desk,
    openSitting,
    takeAlong,
    settle,
    handOver: () => handOver().catch(broken),
    wipe: () => wipe().catch(broken),
    send: () => queue.send({ now: true }),
    askWipe: () => {
      state.wiping = true;
      draw();
      document.getElementById("wiping").focus();
    },
    keepIt: () => {
      state.wiping = false;
      draw();
      document.getElementById("wipe").focus();
    },
    dismiss: (each) => store.remove("told", [each.key]).then(refresh).then(draw, broken),
    dropPhoto: (each) => store.remove("photos", [each.key]).then(refresh).then(draw, broken),
    againPhoto: ({ state: refused, sentence, ...again }) => store.put("photos", again).then(() => queue.send({ now: true }), broken),
  });
  document.title = `${asked} · Caststead`;
  root.replaceChildren(el("div", { class: "question sit", id: "question", "data-step": "list" }, el("div", { class: "sit__head" }, el("h1", { class: "question__ask", tabindex: "-1" }, asked), el("p", { class: "page__lead" }, lead)), body));
  return asked;
}

function tick() {
  for (const clock of root.querySelectorAll("[data-from]")) {
    const seconds = Math.max(0, Math.floor((Date.now() - Date.parse(clock.dataset.from)) / 1000));
    clock.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  }
}

function say(text) {
  said.textContent = "";
  said.textContent = text;
}

function broken(trouble) {
  console.error(trouble);
  state.trouble = `This tablet’s own store does not answer (${trouble.name}). Close the page and open it again; nothing that was kept is lost.`;
  root.replaceChildren(el("div", { class: "question sit" }, el("h1", { class: "question__ask", tabindex: "-1" }, "The tablet’s store does not answer"), refusal(state.trouble), el("div", { class: "acts" }, button("Open it again", () => location.reload(), { variant: "main" }))));
}

// --- beginning ---------------------------------------------------------------------------------------

async function storageKept() {
  if (!navigator.storage?.persist) return "unknown";
  return (await navigator.storage.persisted()) || (await navigator.storage.persist()) ? "promised" : "asked";
}

async function begin() {
  if (!globalThis.isSecureContext || !globalThis.indexedDB) {
    root.replaceChildren(el("div", { class: "question sit" }, el("h1", { class: "question__ask" }, "This needs a secure address"), el("p", {}, "The browser keeps things for a sitting without signal only on https. Open Caststead by its https address.")));
    return;
  }
  navigator.serviceWorker?.register(worker, { scope: "/tablet/" }).catch(() => {}); // without signal the old one stands
  const [pack, pack_at, skew_ms, open] = await Promise.all(["pack", "pack_at", "skew_ms", "open"].map(store.get));
  state.held = { ...state.held, pack: pack ?? null, pack_at, skew_ms };
  await refresh();
  const wanted = Number(location.hash.slice(1)) || open;
  history.replaceState(null, "", location.pathname);
  if (wanted && contextOf(wanted)) await openSitting(wanted);
  else draw();
  addEventListener("popstate", () => (history.state?.sitting ? openSitting(history.state.sitting) : toList()));
  setInterval(tick, 1000);
  storageKept().then((storage) => {
    state.held = { ...state.held, storage };
    if (!state.sitting) draw();
  });
  await queue.start();
  if (navigator.onLine) await takeAlong();
}

begin().catch(broken);
