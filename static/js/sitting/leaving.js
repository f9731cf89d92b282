/* What leaves the tablet otherwise than by the queue: as a file for the desk, or for good. */
import { el } from "./dom.js";
import { base64 } from "./photos.js";
import { isOurs, whose } from "./state.js";
import * as store from "./store.js";

/** Everything of this studio that is not known to be at home, as the file that the desk imports. */
export async function queueFile({ skew_ms = 0 }, day) {
  const device = await store.device();
  const held = await Promise.all([store.entries(), store.told(), store.photos()]);
  const [entries, told, photos] = held.map((rows) => rows.filter(isOurs));
  const unread = told.filter((row) => row.state === "refused" && !row.resolve); // never taken in at home
  const said = [...entries, ...unread].sort((one, other) => one.seq - other.seq);
  const file = {
    caststead: "queue",
    device,
    unit: whose().unit,
    made_at: new Date().toISOString(),
    skew_ms,
    entries: said.map(({ key, seq, kind, sitting, facts, seen, said_at, tapped_by }) => ({ key, seq, kind, sitting, facts, seen, said_at, tapped_by })),
    photos: await Promise.all(
      photos.map(async ({ key, job, piece, kind, said_at, sha256, bytes, tapped_by }) => ({ key, job, piece, kind, said_at, sha256, tapped_by, data: await base64(bytes) })),
    ),
  };
  return new File([JSON.stringify(file)], `caststead-tablet-${day}.json`, { type: "application/json" });
}

/** By the tablet's own way of passing things on where the page is an app of its own: such a window
    has no downloads. Everywhere else as a download. */
export async function given(file) {
  if (matchMedia("(display-mode: standalone)").matches && navigator.canShare?.({ files: [file] })) {
    try {
      return await navigator.share({ files: [file] });
    } catch (trouble) {
      if (trouble.name === "AbortError") return null;
    }
  }
  const href = URL.createObjectURL(file);
  const anchor = el("a", { href, download: file.name, hidden: true });
  document.body.append(anchor); // some engines follow no link that is not on the page
  anchor.click();
  anchor.remove();
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
  return null;
}

/** Ends the session, as far as the studio can be reached, and leaves nothing here. True if it was told. */
export async function logOutAndWipe(logOut) {
  const token = document.cookie.match(/(?:^|; )csrftoken=([^;]*)/)?.[1] ?? "";
  const told = await fetch(logOut, { method: "POST", redirect: "manual", headers: { "X-CSRFToken": token } }).then(
    (response) => response.ok || response.type === "opaqueredirect",
    () => false,
  );
  await store.wipe();
  for (const name of await caches.keys()) await caches.delete(name);
  const registered = await navigator.serviceWorker?.getRegistration("/tablet/");
  await registered?.unregister();
  return told;
}
