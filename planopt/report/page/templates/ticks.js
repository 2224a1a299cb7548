(function () {
  var key = "planopt-ticks-" + document.documentElement.dataset.plan;
  function all(what, inside) { return Array.prototype.slice.call((inside || document).querySelectorAll(what)); }
  function read(name) { try { return JSON.parse(localStorage.getItem(name)); } catch (error) { return null; } }
  function keep(name, value) {
    try { localStorage.setItem(name, JSON.stringify(value)); } catch (error) { /* it lasts for the visit */ }
  }
  var boxes = all("input[data-tick]");
  var tallies = all("[data-tally]");
  var kept = {};
  (read(key) || []).forEach(function (id) { kept[id] = true; });
  function within(list) { return boxes.filter(function (box) { return box.dataset.tick === list; }); }
  function save() { keep(key, boxes.filter(function (box) { return box.checked; }).map(function (box) { return box.id; })); }
  function show(tally) {
    var mine = within(tally.dataset.tally);
    var done = mine.filter(function (box) { return box.checked; }).length;
    tally.querySelector("output").textContent = done + " of " + mine.length + " " + tally.dataset.words;
    tally.querySelector("button").hidden = !done;
  }
  boxes.forEach(function (box) { box.checked = kept[box.id] === true; });
  tallies.forEach(function (tally) {
    var button = document.createElement("button");
    button.type = "button";
    button.textContent = "Untick all";
    button.addEventListener("click", function () {
      within(tally.dataset.tally).forEach(function (box) { box.checked = false; });
      save(); show(tally);
    });
    tally.hidden = false;
    tally.appendChild(button);
    show(tally);
  });
  document.addEventListener("change", function (event) {
    if (!event.target.dataset.tick) { return; }
    save();
    tallies.forEach(function (tally) { if (tally.dataset.tally === event.target.dataset.tick) { show(tally); } });
  });
  /* A pot's weight: groups of three digits after a comma, a point or a space are thousands. */
  function grams(text) {
    var bare = text.trim().replace(/g$/, "").replace(/(\d)[ \u00a0\u202f.,'](?=\d{3}(\D|$))/g, "$1").trim().replace(",", ".");
    return /^\d+(\.\d+)?$/.test(bare) ? Number(bare) : null;
  }
  var pots = read(key + "-pots") || {};
  function weigh(field) {
    var whole = grams(field.value), rest = whole;
    all("[data-of='" + field.id + "']").forEach(function (share) {
      if (!share.dataset.percent) { share.dataset.percent = share.textContent; }
      var mine = whole === null ? 0 : Math.floor(whole * Number(share.dataset.share) + 1e-6);
      rest -= mine;
      share.textContent = whole === null ? share.dataset.percent : mine + " g (" + share.dataset.percent + ")";
    });
    field.parentNode.querySelector("output").textContent =
      whole !== null ? (rest >= 0.5 ? Math.round(rest) + " g left over" : "") : field.value.trim() ? "write grams, such as 4310" : "";
  }
  all("input[data-pot]").forEach(function (field) {
    field.parentNode.hidden = false;
    field.value = pots[field.id] || "";
    if (field.value) { weigh(field); }
    field.addEventListener("input", function () { weigh(field); pots[field.id] = field.value; keep(key + "-pots", pots); });
  });
  window.addEventListener("beforeprint", function () {
    all("details:not([open])").forEach(function (fold) { fold.open = true; fold.dataset.shut = ""; });
  });
  window.addEventListener("afterprint", function () {
    all("details[data-shut]").forEach(function (fold) { fold.open = false; delete fold.dataset.shut; });
  });
})();
