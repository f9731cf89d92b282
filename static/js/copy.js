// A read-only field marked data-copy gets a button that copies it; without this file it is selected by hand.
for (const field of document.querySelectorAll("[data-copy]")) {
  field.addEventListener("focus", () => field.select());
  if (!navigator.clipboard) continue; // only on https or this machine
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button--quiet";
  button.textContent = "Copy";
  button.addEventListener("click", async () => {
    try {
      await navigator.clipboard.writeText(field.value);
      button.textContent = "Copied";
    } catch {
      field.select();
      button.textContent = "Copy it by hand";
    }
    document.getElementById("said").textContent = button.textContent;
  });
  field.after(button);
}
