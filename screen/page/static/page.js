"use strict";
// Extras only: every page works without this file.

// Drop zones: what is dropped becomes the choice of the file input inside; what was chosen is listed.
for (const zone of document.querySelectorAll(".drop")) {
  const input = zone.querySelector("input[type=file]");
  const list = zone.querySelector(".chosen");
  const form = zone.closest("form");
  const told = form.querySelector("[data-too-large]");
  const limit = Number(form.dataset.limit);
  const show = () => {
    list.replaceChildren(...[...input.files].map((file) => {
      const item = document.createElement("li");
      item.textContent = `${file.name}, ${file.size >= 1e6 ? (file.size / 1e6).toFixed(1) + " MB" : Math.max(Math.round(file.size / 1e3), 1) + " kB"}`;
      return item;
    }));
    const total = [...form.querySelectorAll("input[type=file]")].flatMap((one) => [...one.files]).reduce((sum, file) => sum + file.size, 0);
    const over = total > limit * 1e6;
    told.hidden = !over;
    told.textContent = over ? `Together the files are ${(total / 1e6).toFixed(0)} MB; at most ${limit} MB are taken at once. Add them one by one, or screen larger ones with the command line: siltmark screen.` : "";
    form.querySelector("button").disabled = over;
  };
  input.addEventListener("change", show);
  if (input.files.length) show();
  for (const name of ["dragenter", "dragover"]) {
    zone.addEventListener(name, (event) => { event.preventDefault(); zone.classList.add("over"); });
  }
  for (const name of ["dragleave", "drop"]) {
    zone.addEventListener(name, () => zone.classList.remove("over"));
  }
  zone.addEventListener("drop", (event) => {
    event.preventDefault();
    const both = new DataTransfer();
    for (const file of [...input.files, ...event.dataTransfer.files]) both.items.add(file);
    input.files = both.files;
    show();
  });
}
// A file dropped beside a zone must not replace the page.
for (const name of ["dragover", "drop"]) {
  window.addEventListener(name, (event) => { if (event.dataTransfer) event.preventDefault(); });
}

// A typed answer chooses its own circle.
for (const field of document.querySelectorAll("[data-typed]")) {
  field.addEventListener("input", () => { if (field.value) document.getElementById(field.dataset.typed).checked = true; });
}
// A ticked set, or one that is to lead, means that sets are chosen by name.
for (const box of document.querySelectorAll("[name=guidelines], [name=leads]")) {
  box.addEventListener("change", () => {
    if (!box.checked) return;
    document.getElementById("sets-named").checked = true;
    const known = box.closest(".set").querySelector("details");
    known.open = true;
    if (box.name === "leads") document.getElementById("set-" + box.value).checked = true;
  });
}

// Progress: asked for until it is over, then the page shows what came out.
for (const box of document.querySelectorAll("[data-poll]")) {
  const step = box.querySelector("[data-step]");
  const steps = box.querySelector("[data-steps]");
  const seconds = box.querySelector("[data-seconds]");
  const ask = async () => {
    try {
      const answer = await fetch(box.dataset.poll, { headers: { Accept: "application/json" } });
      if (!answer.ok) throw new Error(answer.statusText);
      const now = await answer.json();
      if (!now.running) return location.reload();
      const last = now.steps.at(-1);
      if (last) {
        const words = last[0].toUpperCase() + last.slice(1);
        if (step.textContent !== words) step.textContent = words;
        steps.replaceChildren(...now.steps.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
      }
      seconds.textContent = Math.round(now.seconds);
      setTimeout(ask, 700);
    } catch {
      step.textContent = "Siltmark does not answer. If it was stopped, start it again; a run is whole or absent";
    }
  };
  setTimeout(ask, 400);
}

// What was not taken is read out first.
const problems = document.getElementById("problems");
if (problems) problems.focus();
