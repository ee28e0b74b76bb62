// Sorts and filters the clips of the report. The page is complete without it.
(() => {
  "use strict";
  const by = (id) => document.getElementById(id);
  const tools = by("tools"), find = by("find"), only = by("only"), sort = by("sort"), shown = by("shown");
  const words = new Intl.Collator(document.documentElement.lang, { numeric: true, sensitivity: "base" });
  const tables = [...document.querySelectorAll("table.clips")].map((table) => ({
    table,
    section: table.closest("section"),
    heads: [...table.tHead.rows[table.tHead.rows.length - 1].cells],
    clips: [...table.tBodies].map((body) => ({ body, text: body.textContent.toLowerCase(), hides: false })),
  }));
  const all = tables.reduce((sum, { clips }) => sum + clips.length, 0);
  let falling = false;

  const key = (body, column) => {
    const cell = body.rows[0].cells[column];
    const text = (cell.querySelector(".ring") || cell.firstChild || cell).textContent.trim();
    return cell.dataset.o === undefined ? text : Number(cell.dataset.o);
  };
  const compare = (a, b) => (typeof a === "number" && typeof b === "number" ? a - b : words.compare(String(a), String(b)));

  const arrange = () => {
    const column = sort.value === "" ? null : Number(sort.value);
    for (const { table, heads, clips } of tables) {
      heads.forEach((head, at) => {
        if (at === column) head.setAttribute("aria-sort", falling ? "descending" : "ascending");
        else head.removeAttribute("aria-sort");
      });
      let order = clips;
      if (column !== null) {
        const keyed = clips.map((clip) => ({ clip, key: key(clip.body, column) }));
        // What is not known comes last, whichever way the rest is sorted.
        keyed.sort((a, b) => (a.key === "") - (b.key === "") || (falling ? compare(b.key, a.key) : compare(a.key, b.key)));
        order = keyed.map(({ clip }) => clip);
      }
      table.append(...order.map(({ body }) => body));
    }
  };

  const filter = () => {
    const wanted = find.value.toLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const { section, clips } of tables) {
      let some = false;
      for (const clip of clips) {
        const fits = (only.value === "" || only.value in clip.body.dataset) && wanted.every((word) => clip.text.includes(word));
        clip.body.hidden = !fits;
        count += fits;
        some = some || fits;
      }
      section.hidden = !some;
    }
    for (const day of document.querySelectorAll("section.day")) {
      day.hidden = ![...day.querySelectorAll("section.roll")].some((roll) => !roll.hidden);
    }
    shown.textContent = count === all ? "" : `${tools.dataset.shown}: ${count} ${tools.dataset.of} ${all}`;
  };

  for (const { heads } of tables) {
    heads.forEach((head, at) => {
      const label = head.querySelector(".h");
      const button = document.createElement("button");
      button.type = "button";
      button.className = "h";
      button.textContent = label.textContent;
      // Not every browser repeats buttons with the heads of a table on paper, so the words stay for that.
      label.className = "h inprint";
      button.addEventListener("click", () => {
        falling = sort.value === String(at) && !falling;
        sort.value = String(at);
        arrange();
      });
      label.after(button);
    });
  }
  sort.addEventListener("change", () => {
    falling = false;
    arrange();
  });
  only.addEventListener("change", filter);
  find.addEventListener("input", filter);
  tools.addEventListener("submit", (event) => event.preventDefault());
  tools.hidden = false;
  // A browser that comes back to the page fills in what stood there before.
  if (sort.value !== "") arrange();
  filter();
})();
