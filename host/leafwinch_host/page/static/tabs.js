// Tabs after the pattern of WAI-ARIA: arrows move, the chosen one is the only one in the order of
// tabulation.

import { button, byId, show } from "./dom.js";

export class Tabs {
  /** rows: [[id of panel, title]]; chosen(id) is called as one is shown. */
  constructor(place, rows, chosen) {
    this.chosen = chosen;
    this.tabs = rows.map(([id, title]) => {
      const tab = button(title, () => this.choose(id), {
        role: "tab",
        id: `tab-${id}`,
        "aria-controls": id,
      });
      tab.addEventListener("keydown", (event) => this.key(event, id));
      const panel = byId(id);
      panel.setAttribute("role", "tabpanel");
      panel.setAttribute("aria-labelledby", tab.id);
      place.append(tab);
      return { id, tab, panel };
    });
    this.choose(rows[0][0]);
  }

  choose(id, focus = false) {
    for (const row of this.tabs) {
      const on = row.id === id;
      row.tab.setAttribute("aria-selected", String(on));
      row.tab.tabIndex = on ? 0 : -1;
      show(row.panel, on);
      if (on && focus) row.tab.focus();
    }
    this.open = id;
    this.chosen?.(id);
  }

  key(event, id) {
    const steps = { ArrowRight: 1, ArrowLeft: -1 };
    const at = this.tabs.findIndex((row) => row.id === id);
    let next = at + (steps[event.key] ?? 0);
    if (event.key === "Home") next = 0;
    if (event.key === "End") next = this.tabs.length - 1;
    if (next === at) return;
    event.preventDefault();
    this.choose(this.tabs[(next + this.tabs.length) % this.tabs.length].id, true);
  }
}
