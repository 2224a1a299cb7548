"use strict";
(function () {
  const $ = (id) => document.getElementById(id);
  const narrow = window.matchMedia("(max-width: 60rem)");
  let sheet = null, state = null, client = null, dragged = null, told = "", timer = 0;

  /* ---- small pieces: elements are made, never parsed, so that a name stays text */
  function h(tag, attrs, ...inside) {
    const node = document.createElement(tag);
    for (const [name, value] of Object.entries(attrs || {})) {
      if (name.startsWith("on")) { node.addEventListener(name.slice(2), value); }
      else if (value === true) { node.setAttribute(name, ""); }
      else if (value !== false && value !== null && value !== undefined) { node.setAttribute(name, value); }
    }
    node.append(...inside.flat(3).filter((part) => part !== null && part !== undefined && part !== false && part !== ""));
    return node;
  }
  function fill(id, ...inside) { $(id).replaceChildren(...inside.flat(3).filter((part) => part)); }
  function button(id, words, act, more) { return h("button", { type: "button", id: id, onclick: act, ...more }, words); }
  function choice(id, label, options) {
    return h("span", {}, h("label", { for: id }, label), h("select", { id: id }, options.map(([value, words]) => h("option", { value: value }, words))));
  }
  function say(text) { $("said").textContent = text; }

  /* ---- talking to the server */
  async function ask(place, data) {
    const how = data === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(data) };
    try {
      const answer = await fetch(place, { ...how, credentials: "omit", cache: "no-store" });
      return await answer.json();
    } catch (error) {
      return { gone: true };
    }
  }
  async function act(place, data, then) {
    const answer = await ask(place, data || {});
    if (answer.gone) { return gone(); }
    trouble(answer.trouble || (answer.refused && { title: "Not done: " + answer.refused + ".", faults: [], sentences: [] }));
    await load();
    if (answer.said) { say(answer.said); }
    if (then && answer.said) { then(); }
    if (!answer.said) { $("wrong").scrollIntoView({ block: "nearest" }); }
    return Boolean(answer.said);
  }
  const change = (kind, fields, then) => act("change", { kind: kind, ...fields }, then);
  function toggle(number, kind, fields) { return number ? act("remove", { number: number }) : change(kind, fields); }
  function gone() {
    trouble({ title: "The sheet is not served any more.", faults: [], sentences: ["What was kept is in its folder. Changes that were not kept were told in the terminal as words for planopt adjust; start planopt edit again to go on."] });
  }
  async function load() {
    const answer = await ask("week" + (client ? "?client=" + encodeURIComponent(client) : ""));
    if (answer.gone) { return gone(); }
    if (!answer.sheet) { return trouble({ title: "The sheet cannot be shown: " + answer.refused + ".", faults: [], sentences: [] }); }
    ({ sheet, state } = answer);
    client = sheet.client;
    show();
    if (state.phase === "planning") { again(); }
  }
  function again() { clearTimeout(timer); timer = setTimeout(watch, 250); }
  async function watch() {
    const answer = await ask("state");
    if (answer.gone) { return gone(); }
    if (answer.state.phase === "planning") {
      state = answer.state;
      progress();
      return again();
    }
    await load();
    if (state.trouble) { trouble(state.trouble); say("No new week."); $("wrong").scrollIntoView({ block: "nearest" }); }
    else if (state.difference) { say("A new week is found."); $("slip").focus(); }
    else { say("Stopped; the changes are still on the list."); }
  }
  function trouble(what) {
    fill("wrong", what && [
      h("p", {}, h("strong", {}, what.title)), what.sentences.map((text) => h("p", {}, text)),
      what.faults.map((f) => h("dl", {}, h("dt", {}, [f.field, f.value].filter(Boolean).join(": ")), h("dd", {}, "why: " + f.why),
        h("dd", {}, "mend: " + f.mend), h("dd", { class: "note" }, f.file + (f.line ? ":" + f.line : "") + " [" + f.code + "]"))),
      button("wrong-shut", "Close", () => { trouble(null); }),
    ]);
  }

  /* ---- the sheet */
  function show() {
    const here = document.activeElement && document.activeElement.id;
    const typed = ["w-nutrient", "w-side", "w-amount", "w-span", "seconds"].filter($).map((id) => [id, $(id).value]);
    const open = state.phase === "open";
    document.title = sheet.title + " \u2013 working sheet";
    $("title").textContent = sheet.title;
    $("facts").textContent = sheet.facts;
    fill("who", h("legend", {}, "Whose"), sheet.clients.map((one) => h("label", {}, h("input", {
      type: "radio", name: "who", id: "who-" + one.id, checked: one.id === client, onchange: () => { client = one.id; load(); } }), one.name)));
    $("hint").textContent = open
      ? "Drag a dish to another meal, or use the button of the meal. Energy is in kcal, beside what the meal or day may have."
      : state.phase === "draft" ? "This is the new week; what changed is shaded. Keep it or put it aside beside the list." : "A new week is being planned.";
    fill("week", narrow.matches ? days() : grid());
    fill("windows", windows());
    $("buy-note").textContent = open ? "Mark what is bought already: it stays in the plan." : "";
    $("cook-note").textContent = open ? "Mark what is cooked already: it stays in the plan." : "";
    fill("buy", lists(sheet.visits, "bought", (line) => ({ pack: line.pack })));
    fill("cook", lists(sheet.pots, "cooked", (line) => ({ recipe: line.recipe })));
    slip();
    typed.filter(([id]) => $(id)).forEach(([id, value]) => { $(id).value = value; });
    if (here && $(here) && document.activeElement !== $(here)) { $(here).focus({ preventScroll: true }); }
  }
  const who = () => sheet.clients.find((one) => one.id === client).name;
  const plateOf = (day, meal) => sheet.plates[day.day + "/" + meal.id];
  const has = (energy, window, outside) => h("span", { class: "figure" }, energy + " kcal" + (window ? " (" + window + ")" : ""), outside && h("strong", { class: "bad" }, " outside"));
  function dayHead(day) {
    const kept = state.phase === "open" && day.eats && button("day-" + day.day, day.kept ? "Day is kept" : "Keep day",
      () => toggle(day.kept, "keep_day", { client: client, day: day.day }), { "aria-pressed": String(Boolean(day.kept)), "aria-label": "Keep all of " + day.name });
    return [h("strong", {}, day.name), day.eats && has(day.energy, day.window, day.outside), kept];
  }
  function grid() {
    return h("table", { class: "grid" }, h("caption", { class: "note" }, who()),
      h("thead", {}, h("tr", {}, h("td", { class: "corner" }), sheet.days.map((day) => h("th", { scope: "col" }, dayHead(day))))),
      h("tbody", {}, sheet.meals.map((meal) => h("tr", {}, h("th", { scope: "row" }, meal.name),
        sheet.days.map((day) => spot(day, meal, h("td", {}, content(day, meal), opener(day, meal))))))));
  }
  function days() {
    return sheet.days.map((day) => h("div", { class: "day" }, h("h3", {}, day.name), dayHead(day).slice(1),
      sheet.meals.map((meal) => spot(day, meal, h("div", { class: "meal" }, h("span", {}, meal.name), h("div", {}, content(day, meal)), h("div", {}, opener(day, meal)))))));
  }
  function content(day, meal) {
    const plate = plateOf(day, meal);
    if (plate.away) { return h("span", { class: "quiet" }, "not eaten here"); }
    const was = difference(day, meal);
    return [
      plate.dishes.map((dish) => h("div", { class: "dish", draggable: state.phase === "open" ? "true" : null,
        ondragstart: (event) => lift(event, day, meal, dish), ondragend: (event) => { if (event.dataTransfer.dropEffect === "none") { say("Nothing is moved. Only the meals that were shaded may have " + dish.name + "."); } drop(); } }, h("span", { class: dish.off ? "off" : "" }, dish.name),
      dish.off && h("span", { class: "figure" }, "not here any more"), h("span", { class: "figure" }, dish.servings), dish.kept && h("span", { class: "mark" }, "kept wherever it is"))),
      plate.notes.map((text) => h("span", { class: "mark" }, text)),
      was && h("span", { class: "mark" }, "was: " + was.before + (was.asked ? " (asked for)" : "")),
      plate.kept ? h("span", { class: "mark" }, "kept as it is") : plate.settled ? h("span", { class: "mark" }, "settled by hand") : null,
      has(plate.energy, plate.window, plate.outside),
    ];
  }
  function difference(day, meal) {
    return state.difference && state.difference.plates.find((one) => one.client === client && one.plate === day.day + "/" + meal.id);
  }
  function opener(day, meal) {
    if (plateOf(day, meal).away || state.phase !== "open") { return null; }
    const id = "m-" + day.day + "-" + meal.id;
    return button(id, "Change", () => menu(day, meal, id), { "aria-label": "Change " + day.name + ", " + meal.name, "aria-haspopup": "dialog" });
  }

  /* ---- dragging; the same is in each meal's menu */
  function lift(event, day, meal, dish) {
    dragged = { client: client, recipe: dish.recipe, day: day.day, meal: meal.id };
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", dish.name);
    document.querySelectorAll("[data-plate]").forEach((node) => { node.classList.toggle("can", fits(node.dataset.plate)); });
  }
  const fits = (key) => dragged && key !== dragged.day + "/" + dragged.meal && !sheet.plates[key].away && sheet.plates[key].options.includes(dragged.recipe);
  function drop() {
    dragged = null;
    document.querySelectorAll(".can").forEach((node) => { node.classList.remove("can"); });
  }
  function spot(day, meal, node) {
    const key = day.day + "/" + meal.id;
    node.dataset.plate = key;
    if (difference(day, meal)) { node.classList.add("changed"); }
    node.addEventListener("dragover", (event) => { if (fits(key)) { event.preventDefault(); } });
    node.addEventListener("drop", (event) => {
      event.preventDefault();
      if (fits(key)) { change("move", { ...dragged, to_day: day.day, to_meal: meal.id }); }
      drop();
    });
    return node;
  }
  function menu(day, meal, opener) {
    const plate = plateOf(day, meal), where = { client: client, day: day.day, meal: meal.id };
    const shut = () => { $("menu").close(); if ($(opener)) { $(opener).focus(); } };
    const back = (kind, fields) => { shut(); change(kind, fields); };
    const others = plate.options.filter((name) => !plate.dishes.some((dish) => dish.recipe === name));
    const named = Object.keys(sheet.recipes).filter((name) => others.includes(name)).map((name) => [name, sheet.recipes[name]]);
    fill("menu", h("h2", { id: "menu-h" }, day.name + ", " + meal.name + ", " + who()),
      plate.dishes.map((dish, n) => {
        const to = sheet.days.flatMap((d) => sheet.meals.filter((m) => !(d === day && m === meal) && !plateOf(d, m).away && plateOf(d, m).options.includes(dish.recipe))
          .map((m) => [d.day + "/" + m.id, d.name + ", " + m.name]));
        const move = () => { const [d, m] = $("to-" + n).value.split("/"); back("move", { ...where, recipe: dish.recipe, to_day: Number(d), to_meal: m }); };
        return [h("h3", {}, dish.name), to.length > 0 && h("div", { class: "pair" }, choice("to-" + n, "Move it to", to), button("move-" + n, "Move", move)),
          h("div", { class: "row" }, button("off-" + n, "Not here", () => back("without", { ...where, recipe: dish.recipe })),
            button("stay-" + n, dish.kept ? "Do not keep it any more" : "Keep it wherever it is", () => { shut(); toggle(dish.kept, "keep_dish", { client: client, recipe: dish.recipe }); }))];
      }),
      h("h3", {}, "This meal"),
      named.length > 0 && h("div", { class: "pair" }, choice("put", "Another dish", named), button("put-here", "Put it here", () => back("put", { ...where, recipe: $("put").value }))),
      h("div", { class: "row" }, button("keep-meal", plate.kept ? "Do not keep it any more" : "Keep as it is", () => { shut(); toggle(plate.kept, "keep_meal", where); }),
        button("skip-meal", "No meal here", () => back("skip", where))),
      button("menu-shut", "Close", shut));
    $("menu").showModal();
  }

  /* ---- windows, purchases, batches */
  function windows() {
    const rows = sheet.windows.map((row) => h("tr", {}, h("th", { scope: "row" }, row.nutrient), h("td", {}, row.window), h("td", {}, row.has)));
    const table = rows.length ? h("table", {}, h("caption", { class: "note" }, who()), h("thead", {}, h("tr", {}, ["Nutrient", "Window", "The week has"].map((text) => h("th", { scope: "col" }, text)))), h("tbody", {}, rows)) : h("p", {}, who() + " has no windows.");
    if (state.phase !== "open") { return table; }
    const spans = [["every", "every day"], ...sheet.days.map((day) => [String(day.day), "on " + day.name]), ["week", "over the week"]];
    const set = () => {
      const span = $("w-span").value, amount = $("w-amount").value.trim().replace(",", ".");
      if (!/^\d+(\.\d+)?$/.test(amount)) { say("Write the amount as a number, such as 1600."); return $("w-amount").focus(); }
      const more = span === "week" ? { week: true } : span === "every" ? {} : { day: Number(span) };
      return change("window", { client: client, nutrient: $("w-nutrient").value, side: $("w-side").value, amount: amount, ...more });
    };
    return [table, h("h3", {}, "Change a window of " + who()), h("div", { class: "pair" },
      choice("w-nutrient", "Nutrient", sheet.nutrients.map((one) => [one.id, one.name])), choice("w-side", "Side", [["min", "at least"], ["max", "at most"]]),
      h("span", {}, h("label", { for: "w-amount" }, "Amount"), h("input", { type: "text", id: "w-amount", inputmode: "decimal", size: "7", autocomplete: "off", onkeydown: (event) => { if (event.key === "Enter") { set(); } } })),
      choice("w-span", "When", spans), button("w-set", "Put on the list", set))];
  }
  function lists(groups, kind, what) {
    const open = state.phase === "open";
    return groups.map((group, g) => [h("h3", {}, group.name), h("ul", { class: "lines" }, open && (!g || groups[g - 1].day !== group.day) && whole(group, kind), group.lines.map((line, n) => {
      const id = kind + "-" + g + "-" + n, fields = { ...what(line), day: group.day };
      const box = h("input", { type: "checkbox", id: id, checked: line.over || Boolean(line.done), disabled: line.over || !open, onchange: () => toggle(line.done, kind, fields) });
      return h("li", {}, box, h("label", { for: id }, line.text, line.over && h("span", { class: "note" }, " (" + kind + ", settled)")), line.price && h("span", { class: "price" }, line.price));
    }))]);
  }

  function whole(group, kind) {
    const id = kind + "-all-" + group.day;
    const box = h("input", { type: "checkbox", id: id, checked: Boolean(group.all), onchange: () => toggle(group.all, kind, { day: group.day }) });
    return h("li", { class: "note" }, box, h("label", { for: id }, "all of " + group.date));
  }

  /* ---- the slip: changes so far, or what came of them */
  function slip() {
    $("slip-h").textContent = state.phase === "draft" ? "The new week" : "Changes so far";
    $("to-slip").textContent = $("slip-h").textContent + (state.phase === "draft" || !state.wishes.length ? "" : " (" + state.wishes.length + ")");
    const done = button("done", "Done: end this sheet", async () => { const answer = await ask("done", {}); if (answer.said) { ended(); } });
    if (state.phase === "planning") { fill("slip-body", wishes(false), h("div", { id: "progress" }), button("stop", "Stop", () => act("stop"))); return progress(); }
    if (state.phase === "draft") { return fill("slip-body", outcome()); }
    const over = h("div", { class: "pair" }, choice("over", "Mid-week: eaten, bought and cooked stands before", [["", "nothing yet"], ...state.days.map((day) => [String(day.day), "the morning of " + day.name])]));
    over.querySelector("select").value = state.from_day === null ? "" : String(state.from_day);
    over.querySelector("select").addEventListener("change", (event) => act("over", { day: event.target.value === "" ? null : Number(event.target.value) }));
    return fill("slip-body", state.kept && h("p", {}, "Kept in " + state.kept + ". You go on from there."), wishes(true), over,
      h("div", { class: "pair" }, button("plan", "Plan anew", () => act("plan", $("seconds") && $("seconds").value ? { seconds: Number($("seconds").value) } : {}), { class: "main", disabled: !state.command }),
        state.seconds && choice("seconds", "Search for", [["", state.seconds + " s"], ...[15, 60, 300].filter((s) => s > state.seconds).map((s) => [String(s), s + " s"])])),
      state.command && h("details", {}, h("summary", {}, "The same at the command line"), h("code", {}, state.command)),
      h("p", { class: "note" }, "Nothing is written until you keep a new week; it then goes to " + state.out + "."), h("div", { class: "row" }, done));
  }
  function wishes(open) {
    if (!state.wishes.length) { return h("p", {}, "None yet."); }
    return h("ol", { class: "wishes" }, state.wishes.map((wish) => h("li", {}, wish.label,
      open && button("x-" + wish.number, "Remove", () => act("remove", { number: wish.number }, () => $("slip").focus()), { "aria-label": "Remove: " + wish.label }))));
  }
  function progress() {
    const search = state.search;
    if (!search || !$("progress")) { return; }
    const over = search.limit && search.seconds > search.limit;
    const words = over ? "The search is over; the week is being checked." : search.told ? "Planning anew. May change now: " + search.told + "." : "Planning anew, near the week as it is.";
    if (told !== words) { told = words; say(words); }
    fill("progress", h("p", { "aria-hidden": "true" }, search.seconds + (search.limit ? " of " + search.limit : "") + " s"),
      search.limit && h("progress", { max: search.limit, value: Math.min(search.seconds, search.limit), "aria-label": "Time used" }));
  }
  function outcome() {
    const found = state.difference;
    return [h("p", {}, h("strong", {}, found.headline)),
      h("div", { class: "row" }, button("keep", "Keep this week", keep, { class: "main" }), button("back", "Put it aside", () => act("back", {}, () => $("slip").focus()))),
      h("h3", {}, "Plates that change"), found.plates.length ? h("ul", {}, found.plates.map((one) => h("li", {}, h("strong", {}, one.where + (one.asked ? " (asked for)" : "")), h("br"), one.before + " \u2192 " + one.after))) : h("p", {}, "None."),
      h("h3", {}, "Pots and packs that change"), found.kitchen.length ? h("ul", {}, found.kitchen.map((text) => h("li", {}, text))) : h("p", {}, "None."),
      h("h3", {}, "Why, and what is known"), found.why.map((text) => h("p", {}, text)),
      h("p", { class: "note" }, "It goes to " + state.out + "; the earlier week stays where it is.")];
  }
  function keep() {
    $("keep").disabled = $("back").disabled = true;
    say("The week is being written.");
    return act("keep", {}, () => $("slip").focus());
  }
  function ended() {
    fill("wrong");
    document.querySelector(".sheet").remove();
    $("slip-h").textContent = "Ended";
    say("This sheet has ended; close the page.");
    fill("slip-body", h("p", {}, state.kept ? "Kept in " + state.kept + "." : "Nothing was kept."), state.command && [h("p", {}, "Not kept, as a command:"), h("code", {}, state.command)]);
    $("slip").focus();
  }
  narrow.addEventListener("change", () => { if (sheet) { show(); } });
  load();
})();
