// How many spares, for the numbers somebody tries: from the demand at each lead time, and the stock
// levels at each service level, that the page carries.
(() => {
  const nearest = (values, wanted) =>
    values.reduce((best, one, at) => (Math.abs(one - wanted) < Math.abs(values[best] - wanted) ? at : best), 0);

  function answer(data, stock, tried) {
    const at = tried.now ? stock.now : stock.at[nearest(stock.ages, tried.age)];
    const lead = at[nearest(at.map((one) => one.weeks), tried.lead)];
    const service = data.services.findIndex((one) => Math.abs(one - tried.service / 100) < 1e-6);
    const level = inRuns(lead.levels, service), pmf = lead.pmf, asked = data.services[service];
    const last = Math.max(level + 3, stock.on_hand + stock.on_order, pmf.length - 1);
    const demand = pmf.reduce((sum, one, heads) => sum + one * heads, 0);
    // P(D > k) from the far end, so that nothing cancels; E(D - S)+ is their sum from S on.
    const beyond = new Float64Array(last + 2), missing = new Float64Array(last + 2);
    for (let k = last; k >= 0; k -= 1) {
      beyond[k] = k + 1 < pmf.length ? beyond[k + 1] + pmf[k + 1] : 0;
      missing[k] = missing[k + 1] + beyond[k];
    }
    const idleAt = (k) => data.waiting_hours === null ? lead.idle[Math.min(k, lead.idle.length - 1)] : missing[k] * data.waiting_hours;
    const rows = [];
    for (let k = 0; k <= last; k += 1) {
      const one = { level: k, service: Math.min(1 - beyond[k], 1), missing: missing[k], idle: idleAt(k),
        fill: demand > 0 ? Math.min(Math.max(1 - missing[k] / demand, 0), 1) : 1 };
      if (data.priced) {
        one.carrying = (k - demand + missing[k]) * tried.carrying * lead.cover / data.weeks_per_year;
        one.waiting = one.idle * data.machine_hour_rate;
        one.total = one.carrying + one.waiting;
      }
      rows.push(one);
    }
    let enough = 0;
    while (enough < pmf.length - 1 && 1 - beyond[enough] < asked - 1e-9) enough += 1;
    const want = Math.max(0, level - stock.on_hand - stock.on_order);
    const order = Math.ceil(want / data.order_multiple) * data.order_multiple;
    const least = data.priced ? rows.reduce((best, one) => (one.total < best.total ? one : best)).level : null;
    return { stock, lead, tried, level, order, rows, demand, added: level - enough, least, reorder: inRuns(lead.reorder, service) };
  }

  function sentences(found, say, data) {
    const { stock, lead, level, order, rows, tried } = found;
    const need = say("need", { mean: decimals(found.demand, 1), weeks: String(lead.cover),
      shelf: lead.shelf ? say("need_shelf", { heads: counted(lead.shelf, "part-used head", "part-used heads") }) : "",
      doubt: found.added === 1 ? say("doubt_one", {}) : found.added > 1 ? say("doubt", { heads: found.added }) : "" });
    const has = stock.on_hand + stock.on_order, there = { shelf: stock.on_hand, coming: stock.on_order, order, has };
    const hold = say("hold", { heads: counted(level, "new head", "new heads"), chance: chance(rows[level].service), need });
    const then = say(order > 0 ? "order" : has === level ? "exactly" : "more", there);
    const idle = rows[level].idle;
    const said = [say("reorder", { level: found.reorder }), say(idle >= 0.05 ? "waits" : "waits_none", { hours: hours(idle) })];
    if (found.least !== null) said.push(say("least", { level: found.least }));
    const costs = [];
    if (order > 0) costs.push(say("order_costs", { price: money(tried.price, data.currency), amount: money(order * tried.price, data.currency) }));
    if (stock.year && tried.now) costs.push(say("year_costs", { heads: whole(stock.year[0]), range: heads(stock.year[1], stock.year[2]),
      amount: money(stock.year[0] * tried.price, data.currency),
      amounts: `${money(stock.year[1] * tried.price)} to ${money(stock.year[2] * tried.price)}` }));
    const policy = [tried.now ? say("as_now", {}) : say("swapped", { age: hours(tried.age), share: `${whole(100 * tried.age / stock.rated)} %` })];
    if (!tried.now && tried.age > stock.rated) policy.push(say("past", {}));
    return [`${hold} ${then}`, said.join(" "), costs.join(" "), stock.ages.length ? policy.join(" ") : ""];
  }

  function picture(svg, found) {
    const wide = 640, high = 300, left = 84, right = 16, top = 32, bottom = 56;
    const shown = found.rows.filter((one) => one.level <= found.level || 1 - one.service > 5e-4 || one.level <= found.level + 2);
    const first = Math.max(0, shown.filter((one) => one.service < 0.02).length - 1), bars = shown.slice(first);
    const x = (level) => left + (wide - left - right) * (level - first + 0.5) / bars.length;
    const y = (share) => top + (high - top - bottom) * (1 - share);
    const foot = high - bottom, parts = [];
    for (const tick of [0, 0.25, 0.5, 0.75, 1]) {
      parts.push(["line", { x1: left, x2: wide - right, y1: y(tick), y2: y(tick), class: "grid" }]);
      parts.push(["text", { x: left - 6, y: y(tick) + 4, "text-anchor": "end" }, `${100 * tick} %`]);
    }
    const width = (wide - left - right) / bars.length;
    for (const one of bars) {
      parts.push(["rect", { x: x(one.level) - 0.4 * width, width: 0.8 * width, y: y(1 - one.service), height: Math.max(y(0) - y(1 - one.service), 0.5),
        class: one.level < found.level ? "bar short" : "bar" }]);
      if (bars.length < 18 || one.level % 2 === 0) parts.push(["text", { x: x(one.level), y: foot + 20, "text-anchor": "middle", class: one.level === found.level ? "strong" : "" }, String(one.level)]);
    }
    const asked = 1 - found.tried.service / 100;
    parts.push(["line", { x1: left, x2: wide - right, y1: y(asked), y2: y(asked), class: "rated" }]);
    parts.push(["text", { x: (left + wide - right) / 2, y: high - 8, "text-anchor": "middle" }, "Stock level [heads]"]);
    parts.push(["text", { x: 4, y: 16 }, `Someone waits [%]; dashed: at most ${percent(asked)} asked for`]);
    drawn(svg, parts);
    note(svg, "aria-label", `Chance that someone waits by stock level of ${found.stock.name} heads: ` +
      `${chance(1 - found.rows[found.level].service)} at ${found.level}, ${chance(1 - found.rows[Math.max(found.level - 1, 0)].service)} with one head less.`);
  }

  ready((data) => {
    const form = byId("what-if-panel"), select = byId("what-if-kind"), say = (name, values) => fill(data.templates[name], values);
    const body = form.querySelector("tbody");
    let waiting = 0;
    const now = () => {
      waiting = 0;
      const stock = data.stocks[select.selectedIndex];
      const tried = Object.fromEntries(Object.entries(all).map(([name, one]) => [name, one.value]));
      tried.now = !asNow || asNow.checked;
      const found = answer(data, stock, tried);
      badge(byId("what-if-verdict"), found.order ? `order ${found.order} now` : "order none", "plain", "");
      const [hold, order, costs, policy] = sentences(found, say, data);
      put(byId("what-if-proposal"), hold);
      put(byId("what-if-advice"), order);
      put(byId("what-if-costs"), costs);
      put(byId("what-if-policy"), policy);
      const rows = found.rows.filter((one) => Math.abs(one.level - found.level) <= 3).map((one) => {
        const cells = [`${one.level}${one.level === found.level ? " \u2190 planned" : ""}`, percent(one.service), percent(one.fill), decimals(one.missing, 2), decimals(one.idle, 1)];
        const values = [one.level, one.service, one.fill, one.missing, one.idle];
        if (data.priced) { cells.push(money(one.carrying), money(one.waiting)); values.push(one.carrying, one.waiting); }
        return { cells, values };
      });
      fillTable(body, data.headings, rows);
      picture(byId("what-if-picture"), found);
      form.dataset.answer = JSON.stringify([found.level, found.order, found.reorder, found.least]);
      toLink(byId("what-if-link"), { kind: stock.name, ...(asNow && { now: asNow.checked ? "yes" : "no" }), ...Object.fromEntries(Object.entries(all).map(([name, one]) => [name, one.value])) });
    };
    const soon = () => { if (!waiting) waiting = requestAnimationFrame(now); };
    const all = sliders(form, soon);
    // A swap age that somebody moves is a proposal; until then heads are swapped as they are now.
    const asNow = byId("what-if-now");
    if (asNow) {
      all.age.range.addEventListener("input", () => { asNow.checked = false; });
      all.age.field.addEventListener("change", () => { asNow.checked = false; });
      asNow.addEventListener("change", soon);
    }
    // Each stock keeps what was tried of its own heads while another one is looked at.
    const own = data.stocks.map((stock) => ({ price: stock.price, age: stock.rated, now: true }));
    let shown = 0;
    const other = () => {
      own[shown] = { price: all.price.value, age: all.age && all.age.value, now: !asNow || asNow.checked };
      takeUp();
    };
    const takeUp = () => {
      shown = select.selectedIndex;
      const ages = data.stocks[shown].ages, kept = own[shown];
      all.price.set(kept.price);
      if (!asNow) return;
      asNow.checked = kept.now;
      const limits = { min: ages[0], max: ages[ages.length - 1], step: ages[1] - ages[0] };
      Object.assign(all.age.range, limits);
      Object.assign(all.age.field, limits);
      all.age.set(kept.age);
    };
    const take = () => {
      const given = fromLink();
      if (!given) return;
      select.selectedIndex = Math.max(data.stocks.findIndex((one) => one.name === given.kind), 0);
      other();
      for (const name of Object.keys(all)) if (given[name] !== undefined) all[name].set(Number(given[name]));
      if (asNow) asNow.checked = given.now !== "no";
      byId("what_if").closest("details").open = true;
    };
    select.addEventListener("change", () => { other(); now(); });
    window.addEventListener("hashchange", () => { take(); now(); });
    takeUp();
    take();
    now();
  });
})();
