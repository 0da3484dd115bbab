// The page as text: units, and tables that sort.
const root = document.documentElement;
const byId = id => document.getElementById(id);
const listeners = []; // of a change of units

// A text in braces has one form for US and one for metric units.
const inUnits = s => s.replace(/\{([^{|}]*)\|([^{|}]*)\}/g, root.dataset.units === "us" ? "$1" : "$2");

// Units.
for (const input of document.querySelectorAll("[name=units]")) {
  input.checked = input.value === root.dataset.units;
  input.addEventListener("change", () => {
    root.dataset.units = input.value;
    for (const tell of listeners) tell();
  });
}

// Tables that sort. A figure counts with its unit; what is no figure comes last.
const worth = { "ac": 43560, "sq ft": 1, "ha": 10000, "m²": 1, "tons": 2000, "lb": 1, "t": 1000, "kg": 1 };
const textOf = cell => {
  const copy = cell.cloneNode(true);
  for (const other of copy.querySelectorAll(root.dataset.units === "us" ? ".me" : ".us")) other.remove();
  return copy.textContent.trim().replace(/\u00a0/g, " ");
};
const figureOf = text => {
  const m = text.replace(/\u2212/g, "-").match(/^[<>~+]? *([-+]?\d+(?:\.\d+)?)(?: +(ac|sq ft|ha|m²|tons|lb|t|kg)\b)?/);
  return m ? Number(m[1]) * (worth[m[2]] || 1) : NaN;
};
const nothing = text => text === "" || text === "–";
for (const table of document.querySelectorAll("table")) {
  const body = table.tBodies[0], heads = table.tHead ? [...table.tHead.rows[0].cells] : [];
  if (!body || body.rows.length < 3) continue;
  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "sort";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      for (const other of heads) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const rows = [...body.rows].map(row => {
        const text = row.cells[column] ? textOf(row.cells[column]) : "";
        return { row, text, figure: figureOf(text), last: nothing(text), rest: row.classList.contains("rest") };
      });
      const figures = rows.every(r => r.last || !Number.isNaN(r.figure));
      rows.sort((a, b) => {
        if (a.rest !== b.rest) return a.rest ? 1 : -1;
        if (a.last !== b.last) return a.last ? 1 : -1;
        const order = figures ? a.figure - b.figure : a.text.localeCompare(b.text, undefined, { numeric: true });
        return (a.last ? 0 : down ? -order : order);
      });
      body.append(...rows.map(r => r.row));
    });
  });
}
