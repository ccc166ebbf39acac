"use strict";
(function () {
  // The page works without this: it only sorts, copies and saves.
  var root = document.documentElement;

  // For browsers whose style sheets cannot ask what is checked inside.
  function show(key) { root.setAttribute("data-view", key); }
  Array.prototype.forEach.call(document.querySelectorAll('input[name="view"]'), function (input) {
    if (input.checked) { show(input.value); }
    input.addEventListener("change", function () { show(input.value); });
  });

  function button(text, does) {
    var b = document.createElement("button");
    b.type = "button";
    b.textContent = text;
    b.addEventListener("click", function () { does(b); });
    return b;
  }

  var said = document.createElement("p");
  said.className = "unseen";
  said.setAttribute("role", "status");
  document.body.appendChild(said);
  function tell(b, words) {
    var before = b.textContent;
    said.textContent = words;
    b.textContent = words;
    b.disabled = true;
    setTimeout(function () { b.textContent = before; b.disabled = false; b.focus(); }, 1500);
  }

  function copy(text, b) {
    function done() { tell(b, "Copied"); }
    function byHand() {
      var area = document.createElement("textarea");
      area.value = text;
      area.className = "unseen";
      document.body.appendChild(area);
      area.select();
      var worked = false;
      try { worked = document.execCommand("copy"); } catch (e) { worked = false; }
      document.body.removeChild(area);
      if (worked) { done(); } else { tell(b, "Not allowed here"); }
    }
    if (navigator.clipboard && navigator.clipboard.writeText) {
      navigator.clipboard.writeText(text).then(done, byHand);
    } else {
      byHand();
    }
  }

  function save(text, name, b) {
    var address = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
    var link = document.createElement("a");
    link.href = address;
    link.download = name;
    document.body.appendChild(link);
    link.click();
    document.body.removeChild(link);
    setTimeout(function () { URL.revokeObjectURL(address); }, 1000);
    tell(b, "Saved");
  }

  function cellsOf(table) {
    return Array.prototype.map.call(table.rows, function (row) {
      return Array.prototype.map.call(row.cells, function (cell) { return cell.textContent.trim(); });
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

  function sortBy(table, column, head) {
    var body = table.tBodies[0];
    var down = head.getAttribute("aria-sort") === "ascending";
    var numeric = head.className.indexOf("num") >= 0;
    var rows = Array.prototype.slice.call(body.rows);
    rows.sort(function (a, b) {
      var x = a.cells[column].textContent.trim(), y = b.cells[column].textContent.trim();
      if (x === "" || y === "") { return (x === "") - (y === ""); } // what is missing stays last
      var d = numeric ? parseFloat(x) - parseFloat(y) : 0;
      if (!d) { d = x.localeCompare(y, undefined, { numeric: true }); }
      return down ? -d : d;
    });
    rows.forEach(function (row) { body.appendChild(row); });
    Array.prototype.forEach.call(table.tHead.rows[0].cells, function (cell) { cell.removeAttribute("aria-sort"); });
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
  }

  Array.prototype.forEach.call(document.querySelectorAll("table[data-name]"), function (table) {
    var scroll = table.parentNode;
    var tools = document.createElement("p");
    tools.className = "tools";
    tools.appendChild(button("Copy", function (b) {
      copy(cellsOf(table).map(function (row) { return row.join("\t"); }).join("\n") + "\n", b);
    }));
    tools.appendChild(button("Save as CSV", function (b) {
      save(csv(cellsOf(table)), "greige-" + table.getAttribute("data-name") + ".csv", b);
    }));
    scroll.parentNode.insertBefore(tools, scroll);
    Array.prototype.forEach.call(table.tHead.rows[0].cells, function (head, column) {
      var b = button(head.textContent, function () { sortBy(table, column, head); });
      b.className = "sorts";
      head.textContent = "";
      head.appendChild(b);
    });
  });

  Array.prototype.forEach.call(document.querySelectorAll('[data-copy="list"]'), function (list) {
    var tools = document.createElement("p");
    tools.className = "tools";
    tools.appendChild(button("Copy", function (b) { copy(list.textContent, b); }));
    list.parentNode.insertBefore(tools, list);
  });
})();
