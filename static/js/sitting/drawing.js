/* Draws the window from what it knows: a question of a sitting, or the list; with the line that says
   where the answers are. Presses go to `acts`, which app.js brings. */
import { button, el, refusal, status } from "./dom.js";
import * as flow from "./flow.js";
import { list } from "./list.js";
import { allQuestions, question } from "./screens.js";
import { contextOf, state, unsettled, zone } from "./state.js";
import * as words from "./words.js";

export const root = document.getElementById("main");
const said = document.getElementById("said");
const { logIn, desk } = document.body.dataset;
let acts = {};
let queue = null;

/** What the buttons do: {tap, photo, leave, openSitting, …}; `queue` says how the sending goes. */
export function connect(presses, sending) {
  acts = presses;
  queue = sending;
}

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
export function draw({ spoken = "", top = false, quietly = false } = {}) {
  owed = quietly && (pressing || state.saving); // the draw after a tap says what was heard as well
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
    tap: acts.tap,
    photo: acts.photo,
    dropPhoto: acts.dropPhoto,
    leave: acts.leave,
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
  return [status("late", `${words.count(here, "answer")} of this sitting ${here === 1 ? "waits" : "wait"} for your choice.`), button("Choose", acts.leave, { id: "choose" })];
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
      undo && button(`Undo: ${undo}`, () => acts.tap({ do: "undo" }), { id: "undo" }),
      back && button("Back", () => acts.tap({ do: "go", to: back }), { id: "back" }),
      skips && button(flow.isOpen(visit, visit.at) ? "Leave it open" : "Go on", () => acts.tap({ do: "skip" }), { id: "skip" }),
      button("Sittings", acts.leave, { id: "sittings", variant: "bare" }),
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
    ...acts,
  });
  document.title = `${asked} · Caststead`;
  root.replaceChildren(el("div", { class: "question sit", id: "question", "data-step": "list" }, el("div", { class: "sit__head" }, el("h1", { class: "question__ask", tabindex: "-1" }, asked), el("p", { class: "page__lead" }, lead)), body));
  return asked;
}

export function tick() {
  for (const clock of root.querySelectorAll("[data-from]")) {
    const seconds = Math.max(0, Math.floor((Date.now() - Date.parse(clock.dataset.from)) / 1000));
    clock.textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  }
}

export function say(text) {
  said.textContent = "";
  said.textContent = text;
}

export function broken(trouble) {
  console.error(trouble);
  state.trouble = `This tablet’s own store does not answer (${trouble.name}). Close the page and open it again; nothing that was kept is lost.`;
  root.replaceChildren(el("div", { class: "question sit" }, el("h1", { class: "question__ask", tabindex: "-1" }, "The tablet’s store does not answer"), refusal(state.trouble), el("div", { class: "acts" }, button("Open it again", () => location.reload(), { variant: "main" }))));
}

