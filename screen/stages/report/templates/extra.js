"use strict";
(() => {
  const box = document.getElementById("sieve");
  const marks = [...document.querySelectorAll(".matrix .mark")];
  if (!box || !marks.length) return;

  // A sieve over the matrices: text in sample or substance, and which findings to keep.
  const field = (label, input) => {
    const wrap = document.createElement("label");
    wrap.append(label + " ", input);
    return wrap;
  };
  const text = Object.assign(document.createElement("input"), { type: "search", id: "sieve-text" });
  const finding = Object.assign(document.createElement("select"), { id: "sieve-finding" });
  for (const [value, name] of [["", "all"], ["above", "above"], ["between", "between levels"],
    ["undetermined", "limit too high or members missing"], ["below", "below"], ["not-assessed", "not assessed"]]) {
    finding.append(new Option(name, value));
  }
  const count = Object.assign(document.createElement("output"), { htmlFor: "sieve-text sieve-finding" });
  box.append(field("Sample or substance", text), field("Finding", finding), count);
  box.hidden = false;
  const sift = () => {
    const wanted = text.value.trim().toLowerCase();
    let kept = 0;
    for (const mark of marks) {
      const data = mark.dataset;
      const fits = (!wanted || data.sample.toLowerCase().includes(wanted) || data.substance.toLowerCase().includes(wanted))
        && (!finding.value || data.finding === finding.value);
      mark.classList.toggle("dim", !fits);
      kept += fits;
    }
    for (const row of document.querySelectorAll(".matrix tbody tr")) {
      row.hidden = !row.querySelector(".mark:not(.dim)");
    }
    count.textContent = kept.toLocaleString("en") + " of " + marks.length.toLocaleString("en") + " marks";
  };
  text.addEventListener("input", sift);
  finding.addEventListener("change", sift);
  sift();

  // The full figure, where a rounded one is shown.
  for (const figure of document.querySelectorAll("data")) figure.title = figure.value;

  // Heads of plain tables sort by a press; figures by their full value.
  const value = (row, at) => {
    const cell = row.cells[at];
    const full = cell.querySelector("data");
    const words = full ? full.value : cell.textContent.trim().replaceAll(",", "");
    return words !== "" && !Number.isNaN(Number(words)) ? Number(words) : words.toLowerCase();
  };
  for (const table of document.querySelectorAll(".sheet:not(.matrix) > table")) {
    const body = table.tBodies[0];
    if (!body || body.rows.length < 3 || table.closest(".chain, .numbers")) continue;
    [...table.tHead.rows[0].cells].forEach((head, at) => {
      const press = document.createElement("button");
      press.type = "button";
      press.append(...head.childNodes);
      head.append(press);
      press.addEventListener("click", () => {
        const down = head.getAttribute("aria-sort") === "ascending";
        for (const other of head.parentNode.cells) other.removeAttribute("aria-sort");
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        const rows = [...body.rows].map((row) => [value(row, at), row]);
        const rank = (one) => (one === "" ? 2 : typeof one === "number" ? 0 : 1);
        rows.sort(([a], [b]) => rank(a) - rank(b) || (a < b ? -1 : a > b ? 1 : 0) * (down ? -1 : 1));
        body.append(...rows.map(([, row]) => row));
      });
    });
  }

  // A link to a folded chain opens it.
  const open = () => {
    const at = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (at && at.matches("details")) at.open = true;
  };
  addEventListener("hashchange", open);
  open();
})();
