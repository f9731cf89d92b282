/* The questions of a sitting, one a screen. Each takes the window's state and brings its elements;
   what a tap does is `ui.tap(…)`, which keeps the answer before anything here is drawn anew.
   ui {visit, context, zone, tap, photo, photos}: see app.js. */
import { answer, button, el, refusal, status } from "./dom.js";
import * as flow from "./flow.js";
import * as words from "./words.js";

const OUTCOMES = [
  ["taken", "Taken"],
  ["repeat", "Again"],
  ["not_today", "Not today"],
];

/** {who, place, ask, body} of the question the visit stands at. */
export function question(ui) {
  const [kind] = ui.visit.at.split(":");
  return SCREENS[kind](ui);
}

const SCREENS = {
  who({ context, visit, tap }) {
    const { family, place_label, place_words, young_why } = context.sitting;
    const say = (who) => tap({ do: "who", who });
    const others = ["Mother", "Father", "Grandparent", "Somebody else"];
    return {
      ...sitters(context),
      ask: "Who is here?",
      body: [
        el(
          "div",
          { class: "answers" },
          answer(family.contact_name, "the family’s contact", () => say(family.contact_name), { id: "who-contact", "aria-pressed": pressed(visit.who === family.contact_name) }),
          el("div", { class: "chips", role: "group", "aria-label": "Somebody else" }, others.map((who) => choice(`who-${who}`, who, visit.who === who, () => say(who)))),
        ),
        family.note && status("info", family.note, true),
        young_why && status("info", `So young because: ${young_why}`, true),
        el(
          "dl",
          { class: "facts" },
          context.sitting.children.map((child) => fact(child.first_name, words.capital(limbsOf(context, child)))),
          fact("Where", [words.capital(place_label), place_words, family.address.replaceAll("\n", ", "), family.postcode].filter(Boolean).join(", ")),
          fact("Telephone", el("a", { class: "tel", href: `tel:${family.phone.replaceAll(" ", "")}` }, family.phone)),
        ),
      ],
    };
  },

  consent({ context, visit, tap }) {
    const purpose = visit.at.split(":")[1];
    const { question: ask, text } = context.visit_words.wordings[purpose];
    const said = visit.asked[purpose];
    const standing = context.sitting.consents[purpose];
    const say = (yes) => tap({ do: "consent", purpose, yes });
    return {
      ...sitters(context),
      ask,
      body: [
        el("p", { class: "question__words" }, text),
        said && standing && status("done", `Yes, said ${standing.given_by}.`, true),
        el(
          "div",
          { class: "answers answers--two" },
          answer("Yes", `said ${visit.who || context.sitting.family.contact_name}, today`, () => say(true), { id: "yes", "aria-pressed": pressed(said === true) }),
          answer("No", "the order does not depend on it", () => say(false), { id: "no", "aria-pressed": pressed(said === false) }),
        ),
      ],
    };
  },

  cautions({ context, tap }) {
    const { cautions } = context.visit_words;
    const several = context.sitting.children.length > 1;
    const points = [...cautions.map(({ text }) => text), ...(several ? ["Between two children: fresh clay on the board, and clean hands."] : [])];
    return {
      ...sitters(context),
      ask: "Is all this so?",
      body: [
        el("div", { class: "answers" }, answer("All this is so: begin", "the clock starts", () => tap({ do: "ready" }), { id: "ready" })),
        el(
          "aside",
          { class: "caution" },
          el("p", { class: "caution__title" }, "Before you begin"),
          el("ul", { class: "caution__points" }, points.map((point) => el("li", {}, point))),
          el("p", { class: "caution__limit" }, "This does not replace the maker’s data sheet, local rules or professional advice."),
        ),
      ],
    };
  },

  limb: (ui) => limbScreen(ui),

  look: (ui) => lookScreen(ui),

  deposit({ context, visit, tap, money }) {
    const due = flow.owing(visit, context);
    const take = (amount_minor, method) => tap({ do: "deposit", amount_minor, method });
    const taken = visit.deposit?.key;
    const other = el("input", { id: "amount", type: "text", inputmode: "decimal", autocomplete: "off" });
    return {
      ...sitters(context),
      ask: taken ? `${money(visit.deposit.amount_minor)} was taken` : `The deposit: ${money(due)}`,
      body: taken
        ? [
            status("done", `Written down: ${context.money.methods[visit.deposit.method]}. Press Undo to take it back.`, true),
            el("div", { class: "answers" }, answer("Go on", "", () => tap({ do: "skip" }), { id: "on" })),
          ]
        : [
            el("div", { class: "answers" }, Object.entries(context.money.methods).map(([method, label]) => answer(`${money(due)}, ${label}`, "", () => take(due, method), { id: `pay-${method}` }))),
            el("div", { class: "answers" }, answer("Nothing today", "it stays on the order", () => tap({ do: "no_deposit" }), { id: "pay-not", "aria-pressed": pressed(visit.deposit !== null) })),
            el(
              "details",
              { class: "folded" },
              el("summary", {}, "Another amount"),
              el(
                "div",
                { class: "stack" },
                el("div", { class: "field field--short" }, el("label", { class: "field__label", for: "amount" }, "Amount taken"), el("div", { class: "field__input" }, other)),
                el("div", { class: "chips" }, Object.entries(context.money.methods).map(([method, label]) => chip(`other-${method}`, words.capital(label), false, () => take(words.amount(other.value, context.currency) ?? 0, method)))),
              ),
            ),
          ],
    };
  },

  summary: (ui) => summaryScreen(ui),

  over({ context, visit, zone, tap, leave }) {
    const hours = context.clay_rest_hours;
    const taken = visit.limbs.filter((limb) => limb.outcome === "taken");
    const until = visit.finished_at && new Date(Date.parse(visit.finished_at) + hours * 3_600_000);
    return {
      ...sitters(context),
      ask: "The sitting is done",
      body: [
        status("done", `${words.count(taken.length, "print")} in the clay: cover ${taken.length === 1 ? "it" : "them"} now.`, true),
        el("p", { class: "question__words" }, until ? `Pour by ${words.when(until, zone)}: clay shrinks as it dries.` : `Pour within ${hours} hours of the sitting: clay shrinks as it dries.`),
        context.order?.next_step && el("p", { class: "question__words" }, context.order.next_step),
        el("ul", { class: "entries" }, visit.limbs.map((limb) => limbLine(context, limb))),
        el("div", { class: "answers" }, answer("Back to the sittings", "", leave, { id: "leave" })),
        visit.finished !== "home" ? null : button("Open it again", () => tap({ do: "reopen" }), { id: "reopen" }),
      ],
    };
  },
};

function limbScreen(ui) {
  const { context, visit, tap } = ui;
  const limb = flow.limbAt(visit);
  const marks = context.visit_words.marks[limb.kind];
  const number = visit.limbs.indexOf(limb) + 1;
  const before = visit.limbs[number - 2];
  const tray = flow.trayOf(visit, context, limb);
  const notes = {
    taken: `${marks.map(({ id, text }) => (limb.marks[id] === false ? `not ${text}` : text)).join(", ")}; tray ${tray}`,
    repeat: "smooth the clay and try once more",
    not_today: "enough for today of this one",
  };
  return {
    who: flow.nameOf(context, limb),
    place: `${number} of ${visit.limbs.length}${limb.tries ? `, tried ${words.count(limb.tries, "time")}` : ""}`,
    ask: "How did the print come out?",
    wide: true,
    body: [
      el(
        "div",
        { class: "limb" },
        el(
          "div",
          { class: "stack" },
          before && before.child !== limb.child && status("info", "Another child: fresh clay, clean board and clean hands first.", true),
          el("div", { class: "chips", role: "group", "aria-label": "Quality of the print" }, marks.map(({ id, text }) => chip(`mark-${id}`, words.capital(text), limb.marks[id] !== false, () => tap({ do: "mark", pk: limb.pk, mark: id })))),
          el("div", { class: "answers" }, OUTCOMES.map(([outcome, label]) => answer(label, notes[outcome], () => tap({ do: "outcome", pk: limb.pk, outcome }), { id: outcome, "aria-pressed": pressed(limb.outcome === outcome) }))),
        ),
        el("div", { class: "stack" }, trayAndLength(ui, limb, tray), photoOf(ui, limb), noteChips(ui, limb)),
      ),
    ],
  };
}

function trayAndLength({ context, tap }, limb, tray) {
  const size = context.sizes[limb.pk];
  const step = (mm) => tap({ do: "length", pk: limb.pk, mm });
  const from = limb.length_mm ?? (size ? Math.round(size.mean_mm) : 80);
  const unlike = size && limb.length_mm !== null && (limb.length_mm < size.low_mm || limb.length_mm > size.high_mm);
  return el(
    "div",
    { class: "steppers" },
    stepper("Tray", tray, { id: "tray", less: () => tap({ do: "tray", pk: limb.pk, by: -1 }), more: () => tap({ do: "tray", pk: limb.pk, by: 1 }), lessWords: "A lower tray number", moreWords: "A higher tray number" }),
    stepper("Length, mm", limb.length_mm === null ? "not measured" : `${limb.length_mm} mm`, {
      id: "length",
      less: () => step(limb.length_mm === null ? from : from - 1),
      more: () => step(limb.length_mm === null ? from : from + 1),
      lessWords: "One millimetre less",
      moreWords: "One millimetre more",
      note: size && `expected ${Math.round(size.low_mm)} to ${Math.round(size.high_mm)} mm`,
      type: (typed) => step(typed === "" ? null : Number(typed)),
      value: limb.length_mm ?? "",
    }),
    unlike && el("p", { class: "steppers__all" }, status("late", "Outside what nine children in ten of this age have: measure once more.")),
  );
}

/** A number with a button on either side; `type` makes it a field to type in as well. */
function stepper(label, shown, { id, less, more, lessWords, moreWords, note, type, value }) {
  const middle = type
    ? el("input", { class: "stepper__value", id: `${id}-value`, type: "text", inputmode: "numeric", autocomplete: "off", value, placeholder: "none", "aria-label": "Length in millimetres", on: { change: (event) => type(event.target.value.trim()) } })
    : el("output", { class: "stepper__value", id: `${id}-value` }, shown);
  return el(
    "div",
    { class: "stepper", role: "group", "aria-labelledby": `${id}-label` },
    el("p", { class: "stepper__label", id: `${id}-label` }, label, note && el("span", { class: "quiet-words small" }, ` ${note}`)),
    button("−", less, { id: `${id}-less`, "aria-label": lessWords }),
    middle,
    button("+", more, { id: `${id}-more`, "aria-label": moreWords }),
  );
}

function noteChips({ context, tap }, limb) {
  const said = limb.note ? limb.note.split("; ") : [];
  const all = [...context.visit_words.notes, ...said.filter((each) => !context.visit_words.notes.includes(each))];
  return el(
    "details",
    { class: "folded", id: "notes", open: said.length > 0 },
    el("summary", {}, limb.note ? `Note: ${limb.note}` : "Add a note"),
    el("div", { class: "chips", role: "group", "aria-label": "Notes" }, all.map((word) => chip(`note-${word}`, word, said.includes(word), () => tap({ do: "note", pk: limb.pk, word })))),
  );
}

function photoOf({ context, visit, photo, photos, busyPhoto, tap, dropPhoto }, limb) {
  if (visit.asked.keep !== true) {
    return el("div", { class: "stack stack--tight" }, el("p", { class: "quiet-words" }, "No photograph: the family has not agreed that we keep any."), button("Ask now", () => tap({ do: "go", to: "consent:keep" }), { id: "ask-keep" }));
  }
  const unsent = photos.filter((each) => each.piece === limb.piece);
  const here = unsent.length + (context.sitting.photos[limb.piece] ?? 0);
  const last = [...unsent].sort((one, other) => one.said_at.localeCompare(other.said_at)).at(-1);
  const input = el("input", { class: "unseen", id: "photo", type: "file", accept: "image/*", capture: "environment", disabled: busyPhoto, on: { change: (event) => photo(limb, event.target) } });
  return el(
    "div",
    { class: "photo-press" },
    input,
    el("label", { class: "button button--quiet", for: "photo" }, busyPhoto ? "Keeping it…" : here ? "Another photograph" : "Take a photograph"),
    here > 0 && status("done", words.count(here, "photograph")),
    last && button("Drop the last one", () => dropPhoto(last), { id: "drop-photo" }),
  );
}

function lookScreen(ui) {
  const { context, visit, tap, money } = ui;
  const { order, list } = context;
  const look = { ...flow.lookOf(visit, context), ...ui.draft };
  // The family says yes to something: the first of the list where nothing was chosen yet.
  look.backing ??= list.backings[0]?.pk ?? null;
  look.finish ??= list.finishes[0]?.pk ?? null;
  const choose = (part) => ui.redraft(part);
  const field = (name, label) =>
    el("div", { class: "field" }, el("label", { class: "field__label", for: name }, label), el("div", { class: "field__input" }, el("input", { id: name, type: "text", maxlength: 200, autocomplete: "off", value: look[name], on: { input: (event) => ui.redraft({ [name]: event.target.value }, false) } })));
  const row = (name, label, prices) =>
    prices.length > 0 &&
    el("div", { class: "stack stack--tight" }, el("h2", { class: "question__part", id: `${name}-head` }, label), el("div", { class: "chips", role: "group", "aria-labelledby": `${name}-head` }, prices.map((price) => choice(`${name}-${price.pk}`, price.amount_minor ? `${price.label}, ${money(price.amount_minor)}` : price.label, look[name] === price.pk, () => choose({ [name]: price.pk })))));
  const sum = flow.total(order, list, look.backing, look.finish);
  return {
    ...sitters(context),
    ask: "How should it look?",
    body: [
      row("backing", "Backing", list.backings),
      row("finish", "Frame", list.finishes),
      context.money.layouts.length > 0 &&
        el("div", { class: "stack stack--tight" }, el("h2", { class: "question__part", id: "layout-head" }, "Layout"), el("div", { class: "chips", role: "group", "aria-labelledby": "layout-head" }, context.money.layouts.map((words_) => choice(`layout-${words_}`, words_, look.layout_words === words_, () => choose({ layout_words: look.layout_words === words_ ? "" : words_ }))))),
      field("plate_words", "Words on the plate"),
      el("div", { class: "answers" }, answer(`This is what they want: ${money(sum)}`, order.lines.map((line) => `${line.quantity} × ${line.label}`).join(", "), () => tap({ do: "look", look: ui.lookNow(look) }), { id: "look" })),
    ],
  };
}

function summaryScreen({ context, visit, tap }) {
  const open = visit.limbs.filter((limb) => !flow.settled(limb));
  const taken = visit.limbs.filter((limb) => limb.outcome === "taken");
  const off = visit.limbs.filter((limb) => limb.outcome === "not_today");
  const change = (limb) => button("Change", () => tap({ do: "go", to: `limb:${limb.pk}` }), { id: `change-${limb.pk}`, "aria-label": `Change ${flow.nameOf(context, limb)}` });
  const finish = (put_off) => tap({ do: "finish", put_off });
  const ends = off.length
    ? Object.entries(context.visit_words.put_off).map(([choice, words_]) => answer(`Finish: ${choice === "split" ? `book ${off.length === 1 ? "it" : "them"} again` : `leave ${off.length === 1 ? "it" : "them"} off`}`, words_, () => finish(choice), { id: `finish-${choice}` }))
    : [answer("Finish the sitting", "everything was taken", () => finish("split"), { id: "finish" })];
  return {
    ...sitters(context),
    place: `${taken.length} of ${visit.limbs.length} taken`,
    ask: open.length ? "Still open" : taken.length ? "Is the sitting over?" : "Nothing was taken",
    body: [
      open.length > 0 && el("p", {}, "Say “not today” where nothing came of it; then the sitting can be finished."),
      open.length > 0 && el("div", { class: "answers" }, answer("Go to the first open one", "", () => tap({ do: "go", to: `limb:${open[0].pk}` }), { id: "first-open" })),
      !open.length && taken.length > 0 && off.length > 0 && el("p", { class: "question__words" }, `What becomes of ${words.count(off.length, "piece")} not taken today?`),
      !open.length && taken.length > 0 && el("div", { class: "answers" }, ends),
      !open.length && !taken.length && refusal("The job stays booked. Move the sitting to another day from the desk; what was said here is kept."),
      el("ul", { class: "entries" }, visit.limbs.map((limb) => limbLine(context, limb, change(limb)))),
    ],
  };
}

function limbLine(context, limb, act = null) {
  const kind = { taken: "done", not_today: "plain" }[limb.outcome] ?? "late";
  const more = [limb.outcome === "taken" && limb.tray && `tray ${limb.tray}`, limb.length_mm && `${limb.length_mm} mm`, limb.note].filter(Boolean).join(", ");
  return el("li", { class: "entry entry--stays" }, el("span", { class: "entry__what" }, el("b", {}, flow.nameOf(context, limb)), el("span", { class: "entry__state" }, status(kind, context.visit_words.outcomes[limb.outcome]), more && el("span", { class: "quiet-words" }, `, ${more}`))), act && el("span", { class: "entry__act" }, act));
}

/** Every question of the sitting, to go to by hand. */
export function allQuestions({ context, visit, tap }) {
  const name = (step) => {
    const [kind, of] = step.split(":");
    if (kind === "limb") return flow.nameOf(context, visit.limbs.find((limb) => String(limb.pk) === of));
    if (kind === "consent") return context.visit_words.wordings[of].question;
    return { who: "Who is here", cautions: "Before you begin", look: "How it should look", deposit: "The deposit", summary: "The end" }[kind];
  };
  const steps = flow.way(visit, context).filter((step) => step !== "over");
  return (
    steps.length > 0 &&
    el(
      "details",
      { class: "folded", id: "all" },
      el("summary", {}, "All questions of this sitting"),
      el("div", { class: "chips" }, steps.map((step) => button(el("span", {}, name(step), step !== "summary" && !flow.isOpen(visit, step) && el("span", { class: "quiet-words" }, " answered")), () => tap({ do: "go", to: step }), { id: `to-${step}`, "aria-current": step === visit.at ? "step" : null }))),
    )
  );
}

const pressed = (is) => (is ? "true" : "false");
const fact = (name, value) => value && el("div", {}, el("dt", {}, name), el("dd", {}, value));

/** One of several, where another press takes its place. */
const choice = (id, label, on, click) => chip(id, label, on, click, "chip chip--one");

function chip(id, label, on, click, name = "chip") {
  return el("button", { type: "button", class: name, id, "aria-pressed": pressed(on), on: { click } }, el("span", { class: "chip__box", "aria-hidden": "true" }, on ? (name === "chip" ? "✓" : "●") : ""), label);
}

function sitters({ sitting }) {
  return { who: sitting.children.map((child) => `${child.first_name}, ${child.age}`).join(" · "), place: sitting.family.name };
}

const limbsOf = ({ sitting }, child) => sitting.impressions.filter((each) => each.child === child.pk).map((each) => each.limb_label).join(", ");
