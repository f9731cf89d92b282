/* The tablet at a sitting: keeps every tap, then draws; takes along, settles, and wipes. */
import { el } from "./dom.js";
import { broken, connect, draw, root, say, tick } from "./drawing.js";
import * as flow from "./flow.js";
import * as leaving from "./leaving.js";
import * as photographs from "./photos.js";
import { Queue, ask } from "./queue.js";
import { contextOf, hold, isOurs, refresh, state, whose, zone } from "./state.js";
import * as store from "./store.js";
import * as words from "./words.js";

const PACK = "/tablet/pack/";
const FRESH_MS = 600_000;
const { logIn, logOut, worker } = document.body.dataset;

const queue = new Queue({
  unit: () => state.held.pack?.unit.pk,
  learn: (visit, entry, answer) => (entry.sitting === visit.sitting ? flow.answered(visit, entry, answer) : visit),
  packed: (pack) => {
    if (pack?.made_at === state.held.pack?.made_at) state.held = { ...state.held, pack };
  },
  changed: () => refresh().then(() => draw({ quietly: true }), broken),
});

const pressAgain = ({ state: refused, sentence, ...photo }) => store.put("photos", photo).then(() => queue.send({ now: true }), broken);

connect(
  {
    tap,
    photo,
    leave,
    openSitting,
    takeAlong,
    settle,
    handOver: () => handOver().catch(broken),
    wipe: () => wipe().catch(broken),
    send: () => queue.send({ now: true }),
    askWipe: () => asked(true, "wiping"),
    keepIt: () => asked(false, "wipe"),
    dismiss: (each) => store.remove("told", [each.key]).then(refresh).then(draw, broken),
    dropPhoto: (each) => dropPhoto(each).catch(broken),
    againPhoto: pressAgain,
  },
  queue,
);

// --- what is held ------------------------------------------------------------------------------------

/** Brings the pack up to date, and the visits with it where this tablet has nothing to say. */
async function takeAlong() {
  if (state.loading) return;
  state.loading = true;
  state.trouble = "";
  draw({ quietly: true });
  try {
    await queue.send({ now: true });
    const pack = await freshPack();
    if (!navigator.serviceWorker?.controller) installWorker(); // the first try may have failed
    const another = state.held.pack && state.held.pack.unit.pk !== pack.unit.pk;
    state.held = { ...state.held, pack, pack_at: Date.now(), skew_ms: Date.now() - Date.parse(pack.made_at) };
    if (another) state.sitting = null; // a sitting of the studio that was logged in before
    await store.set({ pack, pack_at: state.held.pack_at, skew_ms: state.held.skew_ms, open: state.sitting });
    if (another) queue.why = "";
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
  await store.remove("told", told.filter((row) => row.resolve && isOurs(row)).map((row) => row.key));
}

// --- taps --------------------------------------------------------------------------------------------

/** Keeps what was said, and only then shows the next question. A second tap until then is not heard. */
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
  await refresh().catch(broken);
  state.saving = false;
  draw({ spoken });
  if (spoken) queue.send({ now: true });
}

async function written(tapped, visit, again = true) {
  const context = contextOf(visit.sitting);
  const { visit: next, said: facts, words: spoken } = flow.tap(visit, context, tapped);
  const entries = facts.map((each) => ({ key: crypto.randomUUID(), ...each, seen: each.seen ?? null, sitting: visit.sitting, said_at: tapped.at, ...whose() }));
  try {
    hold(await store.keep(next, entries));
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
    const row = { key: crypto.randomUUID(), ...picture, sha256, sitting: sitting.pk, job: sitting.job, piece: limb.piece, kind: "sitting", said_at: new Date().toISOString(), ...whose() };
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

async function dropPhoto({ key }) {
  const isHere = (await store.photos()).some((each) => each.key === key);
  await store.remove("photos", [key]);
  state.refused = isHere ? "" : "This photograph is at home already: it can no longer be dropped from here.";
  await refresh();
  draw({ spoken: isHere ? "The photograph is dropped." : "" });
}

async function openSitting(pk) {
  const context = contextOf(pk);
  if (!context) return leave();
  try {
    if (!state.visits.has(pk)) hold(await store.keep({ ...flow.begin(context), unit: whose().unit }, []));
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
  await leaving.given(await leaving.queueFile(state.held, words.localDay(Date.now(), zone())));
  say("The file is made. Everything stays on this tablet until it has reached home.");
}

function asked(whether, focus) {
  state.wiping = whether;
  draw();
  document.getElementById(focus).focus();
}

async function wipe() {
  if (await leaving.logOutAndWipe(logOut)) return location.assign(logIn);
  root.replaceChildren(el("div", { class: "question sit" }, el("h1", { class: "question__ask", tabindex: "-1" }, "This tablet is wiped"), el("p", {}, "The studio could not be told: log out there when there is a signal.")));
  return root.querySelector("h1").focus();
}

// --- beginning ---------------------------------------------------------------------------------------

async function storageKept() {
  if (!navigator.storage?.persist) return "unknown";
  return (await navigator.storage.persisted()) || (await navigator.storage.persist()) ? "promised" : "asked";
}

/** Installs what opens this page without a signal. Fails without one: the worker of before goes on then. */
function installWorker() {
  navigator.serviceWorker?.register(worker, { scope: "/tablet/" }).catch(() => {});
}

async function begin() {
  if (!globalThis.isSecureContext || !globalThis.indexedDB) {
    root.replaceChildren(el("div", { class: "question sit" }, el("h1", { class: "question__ask" }, "This needs a secure address"), el("p", {}, "The browser keeps things for a sitting without signal only on https. Open Caststead by its https address.")));
    return;
  }
  installWorker();
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
