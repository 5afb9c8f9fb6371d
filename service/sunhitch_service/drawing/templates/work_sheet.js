"use strict";
(() => {
  const fields = [...document.querySelectorAll("input[name]")];
  const place = `work sheet ${document.documentElement.dataset.answer}`;

  // What is entered is written into the page itself, so that a saved page holds it.
  function keep(field) {
    if (field.type === "checkbox") field.toggleAttribute("checked", field.checked);
    else field.setAttribute("value", field.value);
  }

  function judge(field) {
    const told = field.closest(".readings > div")?.querySelector("output");
    if (!told) return;
    const value = Number(field.value.trim().replace(",", "."));
    const low = Number(field.dataset.low ?? -Infinity);
    const high = Number(field.dataset.high ?? Infinity);
    let words = "✓ in band";
    if (field.value.trim() === "" || !("low" in field.dataset || "high" in field.dataset)) words = "";
    else if (Number.isNaN(value)) words = "? no number";
    else if (value < low) words = `✗ below ${low}`;
    else if (value > high) words = `✗ above ${high}`;
    told.textContent = words;
    told.dataset.told = words.slice(0, 1);
  }

  // A phone that drops the page loses nothing that was entered since it was saved.
  function draft(entered) {
    try {
      if (entered) localStorage.setItem(place, JSON.stringify(entered));
      else return JSON.parse(localStorage.getItem(place) ?? "{}");
    } catch { /* no storage: the saved page alone keeps it */ }
    return entered ?? {};
  }

  const entered = draft();
  for (const field of fields) {
    if (field.name in entered) {
      if (field.type === "checkbox") field.checked = entered[field.name];
      else field.value = entered[field.name];
      keep(field);
    }
    judge(field);
    field.addEventListener("input", () => {
      keep(field);
      judge(field);
      entered[field.name] = field.type === "checkbox" ? field.checked : field.value;
      draft(entered);
    });
  }

  function save() {
    const page = `<!DOCTYPE html>\n${document.documentElement.outerHTML}\n`;
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([page], { type: "text/html" }));
    link.download = `${document.title.replace(/[^\p{L}\p{N}]+/gu, "-")}.html`;
    link.click();
    URL.revokeObjectURL(link.href);
  }

  const main = document.querySelector("main");
  const screens = [...document.querySelectorAll(".screen")];
  const bar = document.querySelector("nav");
  const list = bar.querySelector("select");
  const shown = () => Math.round(main.scrollLeft / main.clientWidth);
  const go = (to) => screens[Math.max(0, Math.min(to, screens.length - 1))].scrollIntoView();
  list.replaceChildren(...screens.map((one, to) =>
    new Option(one.querySelector("h1, h2, h3").textContent.trim(), to)));
  bar.hidden = false;
  bar.addEventListener("click", (press) => {
    const button = press.target.closest("button");
    if (button?.dataset.turn) go(shown() + Number(button.dataset.turn));
    else if (button) save();
  });
  list.addEventListener("change", () => go(Number(list.value)));
  main.addEventListener("scroll", () => { list.value = shown(); }, { passive: true });
  // On a phone these scroll, so that keys must reach them.
  if (matchMedia("(max-width: 700px)").matches)
    for (const one of document.querySelectorAll(".screen, figure")) one.tabIndex = 0;
})();
