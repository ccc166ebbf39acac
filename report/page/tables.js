// Tables: sort, copy, save. Nothing is asked of any server, nothing is kept.

const said = make("p", "unseen");
said.setAttribute("role", "status");
document.body.appendChild(said);
function tell(b, words) {
  const before = b.getAttribute("data-words") || b.textContent;
  b.setAttribute("data-words", before);
  said.textContent = words;
  b.textContent = words;
  clearTimeout(b.again);
  b.again = setTimeout(function () { b.textContent = before; said.textContent = ""; }, 1500);
}

function copy(text, b) {
  function done() { tell(b, "Copied"); }
  function byHand() {
    const area = make("textarea", "unseen"), focus = document.activeElement;
    let worked = false;
    area.value = text;
    document.body.appendChild(area);
    area.select();
    try { worked = document.execCommand("copy"); } catch (e) { worked = false; }
    area.remove();
    if (focus) { focus.focus({ preventScroll: true }); }
    if (worked) { done(); } else { tell(b, "Not allowed here"); }
  }
  if (navigator.clipboard && navigator.clipboard.writeText) {
    navigator.clipboard.writeText(text).then(done, byHand);
  } else {
    byHand();
  }
}

function save(text, name, b) {
  const address = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" })), link = make("a");
  link.href = address;
  link.download = name;
  document.body.appendChild(link);
  link.click();
  link.remove();
  setTimeout(function () { URL.revokeObjectURL(address); }, 1000);
  tell(b, "Saved");
}

function cellsOf(table) {
  return all("tr", table).map(function (row) {
    return all("th, td", row).map(function (cell) { return cell.textContent.trim(); });
  });
}

// RFC 4180, and nothing that a spreadsheet would run.
function csv(rows) {
  return rows.map(function (row) {
    return row.map(function (cell) {
      if (/^[=+@\t\r\n-]/.test(cell) && !/^-?[0-9.]+( %)?$/.test(cell)) { cell = "'" + cell; }
      return /[",\r\n]/.test(cell) ? '"' + cell.replace(/"/g, '""') + '"' : cell;
    }).join(",");
  }).join("\r\n") + "\r\n";
}

// A figure that only bounds the cloth's own ("at least 71") goes by the figure.
function number(s) { return parseFloat(s.replace(/^at (least|most) /, "")); }

function sortBy(table, column, head) {
  const body = table.tBodies[0];
  const down = head.getAttribute("aria-sort") === "ascending";
  const numeric = head.classList.contains("num");
  const rows = all("tr", body);
  rows.sort(function (a, b) {
    const x = a.cells[column].textContent.trim(), y = b.cells[column].textContent.trim();
    if (x === "" || y === "") { return (x === "") - (y === ""); } // what is missing stays last
    let d = numeric ? number(x) - number(y) : 0;
    if (!d) { d = x.localeCompare(y, undefined, { numeric: true }); }
    return down ? -d : d;
  });
  rows.forEach(function (row) { body.appendChild(row); });
  all("thead th", table).forEach(function (cell) { cell.removeAttribute("aria-sort"); });
  head.setAttribute("aria-sort", down ? "descending" : "ascending");
}

function saveTable(table, b) { save(csv(cellsOf(table)), "greige-" + table.getAttribute("data-name") + ".csv", b); }

all("table[data-name]").forEach(function (table) {
  const scroll = table.parentNode, tools = make("p", "tools");
  tools.appendChild(button("Copy", function (b) {
    copy(cellsOf(table).map(function (row) { return row.join("\t"); }).join("\n") + "\n", b);
  }));
  tools.appendChild(button("Save as CSV", function (b) { saveTable(table, b); }));
  if (table.showTool) { tools.appendChild(table.showTool); }
  scroll.parentNode.insertBefore(tools, scroll);
  all("thead th", table).forEach(function (head, column) {
    const b = button(head.textContent, function () { sortBy(table, column, head); });
    b.className = "sorts";
    head.textContent = "";
    head.appendChild(b);
  });
});

// The piles, as a list to copy and as a table to save.
all("[data-copy]").forEach(function (list) {
  const tools = make("p", "tools"), table = document.querySelector('table[data-name="' + list.getAttribute("data-copy") + '"]');
  tools.appendChild(button("Copy the piles as a list", function (b) { copy(list.textContent, b); }));
  if (table) { tools.appendChild(button("Save the piles as CSV", function (b) { saveTable(table, b); })); }
  list.closest("details").before(tools);
});
