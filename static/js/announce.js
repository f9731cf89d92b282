/* After an htmx swap: say what changed, and never leave the keyboard nowhere.
   A part may carry data-said="3 pieces are on the rack"; else its heading or its refusal is read out.
   A part that asks again by itself (hx-trigger="every …") is news only when its words change.
   data-focus says where the keyboard lands: there, or on the first link or button in it.
   Without this file pages still work: forms and links are plain ones. */
const said = document.getElementById("said");

function say(words, wrong = false) {
  said.classList.toggle("said--wrong", wrong);
  if (said.textContent !== words) said.textContent = words;
}

function wordsOf(root) {
  if (root.dataset.said) return root.dataset.said;
  const told = root.querySelector("[data-said]");
  if (told) return told.dataset.said;
  const heading = root.querySelector("h1, h2, h3, caption")?.textContent.trim();
  if (!heading) return "Brought up to date.";
  return heading.endsWith("?") ? heading : `${heading}: brought up to date.`;
}

document.addEventListener("htmx:beforeRequest", (event) => {
  event.detail.target.setAttribute("aria-busy", "true");
  if (!event.detail.elt.matches('[hx-trigger^="every"]')) say("");
});

document.addEventListener("htmx:afterRequest", (event) => {
  event.detail.target.removeAttribute("aria-busy");
});

document.addEventListener("htmx:afterSettle", (event) => {
  const root = event.detail.elt;
  const refusal = root.querySelector("[role=alert]");
  if (refusal) {
    refusal.focus();
    return;
  }
  say(wordsOf(root));
  if (document.activeElement === document.body) {
    const marked = root.querySelector("[data-focus]") ?? root;
    const landing = (marked !== root && marked.querySelector("a, button")) || marked;
    if (landing.tabIndex < 0 && !landing.hasAttribute("tabindex")) landing.setAttribute("tabindex", "-1");
    landing.focus({ preventScroll: true });
  }
});

document.addEventListener("htmx:sendError", () => {
  say("The studio could not be reached. Nothing was saved; what you typed is still here. Try again.", true);
});

document.addEventListener("htmx:responseError", (event) => {
  const lost = event.detail.xhr.status === 403;
  say(
    lost
      ? "That was not done: this page was open too long, or it is not your job here. Reload the page and look."
      : "Something went wrong at our end. Your last step may not have been saved: reload the page and look.",
    true,
  );
});
