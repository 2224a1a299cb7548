(function () {
  var key = "planopt-ticks-" + document.documentElement.dataset.plan;
  var boxes = Array.prototype.slice.call(document.querySelectorAll("input[data-tick]"));
  var tallies = Array.prototype.slice.call(document.querySelectorAll("[data-tally]"));
  var kept = [];
  try { kept = JSON.parse(localStorage.getItem(key)) || []; } catch (error) { kept = []; }
  function within(list) { return boxes.filter(function (box) { return box.dataset.tick === list; }); }
  function save() {
    var ids = boxes.filter(function (box) { return box.checked; }).map(function (box) { return box.id; });
    try { localStorage.setItem(key, JSON.stringify(ids)); } catch (error) { /* ticks last for the visit */ }
  }
  function show() {
    boxes.forEach(function (box) { box.closest("tr").classList.toggle("done", box.checked); });
    tallies.forEach(function (tally) {
      var mine = within(tally.dataset.tally);
      var done = mine.filter(function (box) { return box.checked; }).length;
      tally.querySelector("output").textContent = done + " of " + mine.length + " in the basket";
    });
  }
  boxes.forEach(function (box) {
    box.checked = kept.indexOf(box.id) >= 0;
    box.addEventListener("change", function () { save(); show(); });
  });
  tallies.forEach(function (tally) {
    var button = document.createElement("button");
    button.type = "button";
    button.textContent = "Untick all";
    button.addEventListener("click", function () {
      within(tally.dataset.tally).forEach(function (box) { box.checked = false; });
      save(); show();
    });
    tally.hidden = false;
    tally.appendChild(button);
  });
  show();
})();
