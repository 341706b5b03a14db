"use strict";
(() => {
  const body = document.getElementById("rows");
  const heads = [...document.querySelectorAll("th[data-kind]")];
  heads.forEach((head, column) => head.firstChild.addEventListener("click", () => {
    const down = head.getAttribute("aria-sort") === "ascending", sign = down ? -1 : 1;
    for (const other of heads) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const value = (row) => row.cells[column].dataset.value ?? row.cells[column].textContent;
    const compare = head.dataset.kind === "text" ? (a, b) => value(a).localeCompare(value(b)) : (a, b) => Number(value(a)) - Number(value(b));
    body.append(...[...body.rows].sort((a, b) => sign * compare(a, b)));
  }));
})();
