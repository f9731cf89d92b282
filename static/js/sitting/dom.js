/* Elements from data: everything that people typed goes in as text, never as markup. */
const SVG = "http://www.w3.org/2000/svg";
const SHAPES = {
  done: "M2.5 8.5 6.5 12.5 13.5 4",
  late: "M8 2 14.5 13.5h-13zM8 6.8v2.7M8 11.6v.1",
  info: "M8 1.8a6.2 6.2 0 1 1 0 12.4A6.2 6.2 0 0 1 8 1.8zM8 7.5v3.6M8 4.9v.1",
  plain: "M4 8h8",
};

/** `props`: attributes; `class`; `on` {event: handler}. Children: elements, text; nothing is left out. */
export function el(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (name === "on") for (const [event, handler] of Object.entries(value)) made.addEventListener(event, handler);
    else if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children.flat(3).filter((child) => child !== null && child !== undefined && child !== false && child !== ""));
  return made;
}

/** A state in a shape and in words, as templates/parts/status.html draws it. */
export function status(kind, words, block = false) {
  const shape = document.createElementNS(SVG, "svg");
  const facts = { class: "status__shape", viewBox: "0 0 16 16", width: 16, height: 16, "aria-hidden": "true", focusable: "false", fill: "none", stroke: "currentColor", "stroke-width": kind === "late" || kind === "info" ? 1.6 : 2, "stroke-linecap": "round", "stroke-linejoin": "round" };
  for (const [name, value] of Object.entries(facts)) shape.setAttribute(name, value);
  const path = document.createElementNS(SVG, "path");
  path.setAttribute("d", SHAPES[kind]);
  shape.append(path);
  return el("span", { class: `status status--${kind}${block ? " status--block" : ""}` }, shape, el("span", { class: "status__words" }, words));
}

export const button = (label, click, { variant = "quiet", ...props } = {}) =>
  el("button", { type: "button", class: `button button--${variant}`, on: { click }, ...props }, label);

export const link = (label, href, variant = "quiet") => el("a", { class: `button button--${variant}`, href }, label);

/** A thumb-sized answer: what it says, and what it writes down. */
export const answer = (label, note, click, props = {}) =>
  el("button", { type: "button", class: "answer", on: { click }, ...props }, label, note && el("span", { class: "answer__note" }, note));

export const refusal = (...sentences) =>
  el("div", { class: "refused", role: "alert", tabindex: "-1" }, sentences.map((each) => el("p", {}, each)));
