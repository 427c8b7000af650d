// Running heads past their rating, for the numbers somebody tries: `Kind.answer` again, from the
// scenarios of life and the stock levels that the page carries.
(() => {
  const PLACES = [-0.8611363115940526, -0.3399810435848563, 0.3399810435848563, 0.8611363115940526];
  const WEIGHTS = [0.34785484513745385, 0.6521451548625461, 0.6521451548625461, 0.34785484513745385];
  const EVEN = 1e-9, TAIL = 0.05, MOST_KEPT = 400;

  // The scenarios of life of one kind of head, age by age: worked out in steps, so that a page
  // which prepares the next kind meanwhile still answers at once.
  function* opening(kind) {
    const shapes = kind.shapes.map(floats), scales = kind.scales.map(floats);
    const weights = floats(kind.weights), meanLife = floats(kind.mean_life);
    const total = weights.reduce((sum, one) => sum + one, 0);
    weights.forEach((one, at) => { weights[at] = one / total; });
    const first = floats(kind.first_hours), n = weights.length;
    const logs = scales.map((one) => one.map(Math.log));
    const share = (at, logAge) => {
      let hazard = 0;
      for (let mode = 0; mode < shapes.length; mode += 1)
        hazard += Math.exp(shapes[mode][at] * (logAge - logs[mode][at]));
      return Math.exp(-hazard);
    };
    // Hours run between two ages, added to what was run before: Gauss-Legendre, four points.
    const grown = (before, from, to) => {
      const half = 0.5 * (to - from), sum = Float64Array.from(before);
      PLACES.forEach((place, point) => {
        const logAge = Math.log(from + half * (place + 1));
        for (let at = 0; at < n; at += 1) sum[at] += WEIGHTS[point] * half * share(at, logAge);
      });
      return sum;
    };
    const events = (age, ran) => {
      const logAge = Math.log(age), planned = new Float64Array(n), failures = new Float64Array(n);
      for (let at = 0; at < n; at += 1) {
        const reached = share(at, logAge);
        planned[at] = reached / ran[at];
        failures[at] = (1 - reached) / ran[at];
      }
      return withMeans({ planned, failures });
    };
    const withMeans = (found) => Object.assign(found, {
      meanPlanned: mean(found.planned, weights), meanFailures: mean(found.failures, weights),
    });
    const ages = [], run = [], grid = [], step = (kind.last_age - kind.first_age) / (kind.curve_ages - 1);
    for (let at = 0; at < kind.curve_ages; at += 1) {
      ages.push(kind.first_age + step * at);
      run.push(at ? grown(run[at - 1], ages[at - 1], ages[at]) : first);
      grid.push(events(ages[at], run[at]));
      yield at;
    }
    const known = new Map([[Infinity, withMeans({ planned: new Float64Array(n), failures: meanLife.map((one) => 1 / one) })]]);
    const rates = (age) => {
      if (known.has(age)) return known.get(age);
      let below = 0;
      while (below + 1 < ages.length && ages[below + 1] <= age) below += 1;
      // Beyond the curve a piece is as long as its own steps, no longer.
      let ran = run[below], from = ages[below];
      while (age - from > 1.5 * step) { ran = grown(ran, from, from + step); from += step; }
      const found = events(age, grown(ran, from, age));
      if (known.size > MOST_KEPT) known.delete([...known.keys()][1]);
      known.set(age, found);
      return found;
    };
    // Heads used and failed per print hour do not depend on any cost: once for each age.
    const numbers = (found) => {
      if (!found.numbers) {
        const heads = found.planned.map((one, at) => one + found.failures[at]);
        found.numbers = { heads: bounds(heads, weights, TAIL), failed: bounds(found.failures, weights, TAIL) };
      }
      return found.numbers;
    };
    kind.life = { weights, ages, grid, rates, numbers, n, scratch: new Float64Array(n) };
  }
  function opened(kind) {
    if (!kind.life) {
      const steps = kind.opening || opening(kind);
      while (!steps.next().done);
    }
    return kind.life;
  }
  // While nobody moves anything the other kinds are prepared, a few thousandths of a second at once.
  function prepare(kinds) {
    const next = kinds.find((kind) => !kind.life);
    if (!next) return;
    next.opening = next.opening || opening(next);
    const until = performance.now() + 6;
    while (performance.now() < until && !next.opening.next().done);
    setTimeout(() => prepare(kinds), 10);
  }

  function costsOf(shop, kind, tried) {
    const rate = shop.machine_hour_rate, attended = rate + shop.labour_per_hour;
    const checkHours = tried.checks * shop.manual_check_hours;
    const waitingHours = (1 - tried.service) * shop.waiting_hours_per_stockout;
    const planned = tried.price + shop.swap_labour_hours * attended +
      shop.calibration_hours * rate + checkHours * attended;
    return {
      planned,
      failure: planned + tried.scrapped + waitingHours * rate,
      standing: shop.swap_labour_hours + shop.calibration_hours + checkHours,
      waitingHours,
    };
  }

  function comesOutAt(policy, kind) {
    if (!policy.build || policy.age === Infinity) return policy.age;
    const builds = policy.age / policy.build;
    const ends = kind.quality_critical ? Math.floor(builds + EVEN) : Math.ceil(builds - EVEN);
    return Math.max(ends, 1) * policy.build;
  }

  function compared(kind, tried) {
    const listed = [{ age: kind.notice, name: "at the notice" }];
    const ages = tried.age === kind.rated ? [kind.rated] : [kind.rated, tried.age];
    for (const age of ages) {
      const name = age === kind.rated ? "at the rating" : `at ${whole(age)} h`;
      listed.push({ age, name });
      listed.push({ age, name: `${name}, between builds`, build: tried.build });
    }
    listed.push({ age: Infinity, name: "run to failure" });
    if (kind.quality_critical)
      for (const one of listed) if (one.age > kind.rated) one.name += " (not advised)";
    return listed;
  }

  // Stock levels stand at twentieths of the rating, run to failure last, as runs of equal levels.
  function spares(kind, out, lead, service) {
    const runs = kind.levels[lead][service];
    if (out === Infinity) return runs[runs.length - 1][0];
    const step = kind.level_age_step;
    return inRuns(runs, Math.max(Math.floor(out / step + 0.5), 1) - Math.round(kind.first_level_age / step));
  }

  function cheapest(kind, costs, limit) {
    const cost = (at) => costs.planned * kind.search_planned[at] + costs.failure * kind.search_failures[at];
    const ages = kind.search_ages;
    const life = opened(kind);
    const at = (age) => { const found = life.rates(age); return costs.planned * found.meanPlanned + costs.failure * found.meanFailures; };
    let last = ages.length;
    if (limit !== undefined) last = ages.findIndex((age) => age >= limit);
    let best = 0;
    for (let place = 1; place < last; place += 1) if (cost(place) < cost(best)) best = place;
    let age = ages[best], least = cost(best);
    if (best > 0 && best + 1 < last) {
      // The lowest point of the parabola through three ages, on the scale on which they are even.
      const [a, b, c] = [cost(best - 1), least, cost(best + 1)];
      const bend = a - 2 * b + c, shift = bend > 0 ? 0.5 * (a - c) / bend : 0;
      age = Math.exp(Math.log(ages[best]) + shift * Math.log(ages[best + 1] / ages[best]));
      least = b - 0.125 * (a - c) ** 2 / (bend || 1);
    }
    if (limit !== undefined) {
      const there = at(limit);
      return least >= there ? { age: limit, cost: there } : { age, cost: least };
    }
    const toFailure = costs.failure * kind.search_to_failure;
    return least >= toFailure * (1 - EVEN) ? { age: Infinity, cost: toFailure } : { age, cost: least };
  }

  function answer(data, kind, tried) {
    const life = opened(kind), costs = costsOf(data.shop, kind, tried);
    const service = data.services.findIndex((one) => Math.abs(one - tried.service) < 1e-6);
    const lead = data.leads.findIndex((one) => Math.abs(one - tried.lead) < 1e-6);
    const holding = (level) => level * data.shop.carrying_cost_per_head_year / (4 * kind.hours_per_quarter);
    const summed = (into, rates, planned, failure, more) => {
      for (let at = 0; at < into.length; at += 1) into[at] = rates.planned[at] * planned + rates.failures[at] * failure + more;
      return into;
    };
    const times = (value, factor) => ({ expected: factor * value.expected, low: factor * value.low, high: factor * value.high });
    const quarter = kind.hours_per_quarter, { weights, scratch } = life;
    const atRating = life.rates(kind.rated), yardLevel = spares(kind, kind.rated, lead, service);
    const yardCosts = summed(new Float64Array(life.n), atRating, costs.planned, costs.failure, holding(yardLevel));
    const policies = compared(kind, tried).map((policy) => {
      const out = comesOutAt(policy, kind), rates = life.rates(out), level = spares(kind, out, lead, service);
      const total = summed(scratch, rates, costs.planned, costs.failure, holding(level));
      const cost = bounds(total, weights, TAIL), { heads, failed } = life.numbers(rates);
      let odds = 0, saving = 0, dearer = 0, loss = 0;
      for (let at = 0; at < life.n; at += 1) {
        const gain = yardCosts[at] - total[at], slack = EVEN * Math.abs(yardCosts[at]);
        saving += weights[at] * gain;
        if (gain > slack) odds += weights[at];
        if (gain < -slack) { dearer += weights[at]; loss -= weights[at] * gain; }
      }
      const standing = summed(scratch, rates, costs.standing, costs.standing + costs.waitingHours, 0);
      return { ...policy, out, level, cost, odds, holding: holding(level),
        planned: costs.planned * rates.meanPlanned, unplanned: costs.failure * rates.meanFailures,
        heads: times(heads, quarter), failed: times(failed, quarter),
        standing: times(bounds(standing, weights, TAIL), quarter),
        saving: saving * quarter, regret: dearer > 0 ? loss / dearer * quarter : 0 };
    });
    const yard = policies.find((one) => one.name === "at the rating");
    const curve = life.ages.map((age, at) => {
      const rates = life.grid[at];
      const point = { age, planned: costs.planned * rates.meanPlanned, unplanned: costs.failure * rates.meanFailures };
      point.expected = point.planned + point.unplanned;
      if (at % 5 === 0 || at === life.ages.length - 1) {
        const { low, high } = bounds(summed(scratch, rates, costs.planned, costs.failure, 0), weights, TAIL);
        point.low = low;
        point.high = high;
      }
      return point;
    });
    const best = cheapest(kind, costs), advised = kind.quality_critical ? cheapest(kind, costs, kind.rated) : best;
    return { kind, tried, costs, policies, yard, curve, advised,
      capped: kind.quality_critical && best.age > kind.rated,
      proposed: policies.find((one) => one.age === tried.age && !one.build) };
  }

  function verdict(found) {
    const { kind, tried, proposed } = found;
    if (kind.quality_critical && tried.age > kind.rated) return ["not past the rating", "bad", "\u2715"];
    if (tried.age === kind.rated) return ["the yardstick", "plain", ""];
    if (proposed.odds >= 0.95) return ["saves", "good", "\u2713"];
    return proposed.odds <= 0.05 + 1e-12 ? ["costs more", "bad", "\u2715"] : ["not settled", "open", "?"];
  }

  function proposal(found, say, currency) {
    const { kind, tried, proposed, yard } = found;
    if (kind.quality_critical && tried.age > kind.rated)
      return say("forbidden", { kind: kind.name, rated: hours(kind.rated) });
    const cost = proposed.cost;
    const said = [say("now", { kind: kind.name, age: say("age", { hours: hours(tried.age) }),
      cost: hourly(cost.expected, currency), low: hourly(cost.low), high: hourly(cost.high) })];
    if (tried.age === kind.rated) return `${said[0]} ${say("yardstick", {})}`;
    said.push(say("against", {
      change: say(proposed.saving >= 0 ? "saves" : "costs_more", { amount: money(Math.abs(proposed.saving), currency) }),
      chance: chance(proposed.odds),
      wrong: proposed.regret > 0 && 1 - proposed.odds >= 0.001 ? say("wrong", { amount: money(proposed.regret, currency) }) : "",
    }));
    said.push(say("failures", { after: decimals(proposed.failed.expected, 1), before: decimals(yard.failed.expected, 1) }));
    if (tried.age > kind.oldest_seen) said.push(say("extrapolated", { seen: hours(kind.oldest_seen) }));
    if (tried.age > kind.rated && kind.never_past.length) said.push(neverPast(kind, say));
    return said.join(" ");
  }
  const neverPast = (kind, say) =>
    say(kind.never_past.length === 1 ? "not_on_one" : "not_on", { printers: kind.never_past.join(", ") });

  function advice(found, say, currency) {
    const { kind, advised, yard, policies } = found;
    const listed = policies.find((one) => one.age === advised.age && !one.build);
    const perHour = listed ? say("with_spares", { cost: hourly(listed.cost.expected, currency) })
      : say("without_spares", { cost: hourly(advised.cost, currency) });
    if (found.capped) return say("capped", { rated: hours(kind.rated), per_hour: perHour });
    const age = advised.age === Infinity ? say("age_never", {}) : say("age", { hours: hours(advised.age) });
    const gain = yard.cost.expected - yard.holding;
    const said = [Math.abs(gain - advised.cost) < 0.01 * gain ? say("even", { age, per_hour: perHour })
      : advised.age === Infinity ? say("to_failure", { per_hour: perHour })
        : say("cheapest", { hours: hours(advised.age), per_hour: perHour })];
    if (advised.age > kind.oldest_seen) said.push(say("beyond_data", { seen: hours(kind.oldest_seen) }));
    if (!kind.shape_learned) said.push(say("assumed", { failures: counted(kind.failures, "failure", "failures") }));
    if (advised.age > kind.rated && kind.never_past.length) said.push(neverPast(kind, say));
    return said.join(" ");
  }

  function picture(svg, found, currency) {
    const wide = 640, high = 330, left = 84, right = 34, top = 30, bottom = 56;
    const end = found.curve[found.curve.length - 1].age;
    const atRating = found.curve.reduce((near, one) => one.high !== undefined &&
      Math.abs(one.age - found.kind.rated) < Math.abs(near.age - found.kind.rated) ? one : near, found.curve[0]);
    const least = Math.min(...found.curve.map((one) => one.expected));
    const most = roundEnd(Math.max(1.5 * atRating.high, 1.1 * least, 1.1 * found.proposed.cost.expected));
    const x = (age) => left + (wide - left - right) * age / end;
    const y = (cost) => top + (high - top - bottom) * (1 - Math.min(cost, most * 1.2) / most);
    const line = (points) => points.map((one, at) => `${at ? "L" : "M"}${one[0].toFixed(1)} ${one[1].toFixed(1)}`).join("");
    const foot = high - bottom, area = { y: top, height: foot - top }, parts = [];
    parts.push(["defs", {}, [
      ["clipPath", { id: "what-if-clip" }, [["rect", { x: left, width: wide - left - right, ...area }]]],
      ["pattern", { id: "what-if-unseen", width: 7, height: 7, patternUnits: "userSpaceOnUse" },
        [["rect", { width: 7, height: 7, class: "unseen" }], ["circle", { cx: 2, cy: 2, r: 1, class: "speck" }]]],
    ]]);
    const seen = Math.min(found.kind.oldest_seen, end);
    if (seen < end) parts.push(["rect", { x: x(seen), width: x(end) - x(seen), ...area, fill: "url(#what-if-unseen)" }]);
    for (const tick of ticks(most, 5)) {
      parts.push(["line", { x1: left, x2: wide - right, y1: y(tick), y2: y(tick), class: "grid" }]);
      parts.push(["text", { x: left - 6, y: y(tick) + 4, "text-anchor": "end" }, decimals(tick, most < 2 ? 2 : most < 20 ? 1 : 0)]);
    }
    for (const tick of ticks(end, 6)) parts.push(["text", { x: x(tick), y: foot + 20, "text-anchor": "middle" }, whole(tick)]);
    parts.push(["text", { x: (left + wide - right) / 2, y: high - 8, "text-anchor": "middle" }, "Age at which working heads are swapped [h]"]);
    parts.push(["text", { x: 4, y: 14 }, `Cost per print hour [${currency}/h]`]);
    const banded = found.curve.filter((one) => one.high !== undefined);
    const band = `${line(banded.map((one) => [x(one.age), y(one.high)]))}${line(banded.slice().reverse().map((one) => [x(one.age), y(one.low)])).replace("M", "L")}Z`;
    const curves = ["planned", "unplanned", "expected"].map((name) =>
      ["path", { class: name, d: line(found.curve.map((one) => [x(one.age), y(one[name])])) }]);
    parts.push(["g", { "clip-path": "url(#what-if-clip)" }, [["path", { class: "band", d: band }], ...curves]]);
    const rated = x(found.kind.rated);
    parts.push(["line", { x1: rated, x2: rated, y1: top, y2: foot, class: "rated" }]);
    parts.push(["text", { x: rated, y: top - 4, "text-anchor": "middle" }, `rated ${whole(found.kind.rated)} h`]);
    const rates = opened(found.kind).rates(found.tried.age);
    const cost = found.costs.planned * rates.meanPlanned + found.costs.failure * rates.meanFailures;
    parts.push(["circle", { cx: x(found.tried.age), cy: y(cost), r: 6, class: "dot" }]);
    const toLeft = found.tried.age > 0.8 * end;
    parts.push(["text", { x: x(found.tried.age) + (toLeft ? -10 : 10), y: y(cost) - 10, "text-anchor": toLeft ? "end" : "start", class: "strong" }, `${whole(found.tried.age)} h`]);
    drawn(svg, parts);
    note(svg, "aria-label", `Cost per print hour of ${found.kind.name} heads against the age at which they are swapped: ` +
      `${hourly(cost, currency)} at ${hours(found.tried.age)}, without spares; lowest ${hourly(least, currency)} ` +
      `at about ${hours(found.curve.find((one) => one.expected === least).age)}.`);
  }

  ready((data) => {
    const form = byId("what-if-panel"), select = byId("what-if-kind"), say = (name, values) => fill(data.templates[name], values);
    const body = form.querySelector("tbody"), headings = data.headings, currency = data.shop.currency;
    let waiting = 0;
    const now = () => {
      waiting = 0;
      const kind = data.kinds[select.selectedIndex];
      const tried = Object.fromEntries(Object.entries(all).map(([name, one]) => [name, one.value]));
      tried.service /= 100;
      const found = answer(data, kind, tried);
      badge(byId("what-if-verdict"), ...verdict(found));
      put(byId("what-if-proposal"), proposal(found, say, currency));
      put(byId("what-if-advice"), advice(found, say, currency));
      const spread = (value) => `${decimals(value.expected, 1)} (${decimals(value.low, 1)} to ${decimals(value.high, 1)})`;
      fillTable(body, headings, found.policies.map((one) => {
        const yard = one === found.yard;
        return { cells: [
          one.name, one.out === Infinity ? "never" : whole(one.out),
          `${hourly(one.cost.expected)} (${hourly(one.cost.low)} to ${hourly(one.cost.high)})`,
          decimals(one.planned, 2), decimals(one.unplanned, 2), decimals(one.holding, 2),
          spread(one.heads), spread(one.failed), spread(one.standing), String(one.level),
          yard ? "the yardstick" : chance(one.odds), yard ? "\u2013" : whole(one.saving), yard ? "\u2013" : whole(-one.regret),
        ], values: [one.age, one.out, one.cost.expected, one.planned, one.unplanned, one.holding, one.heads.expected,
          one.failed.expected, one.standing.expected, one.level, one.odds, one.saving, -one.regret] };
      }));
      found.policies.forEach((one, number) => {
        const cost = body.children[number].children[2];
        note(cost, "data-low", one.cost.low);
        note(cost, "data-high", one.cost.high);
      });
      picture(byId("what-if-picture"), found, currency);
      form.dataset.curve = JSON.stringify(found.curve.filter((one) => one.low !== undefined).map((one) => [one.age, one.expected, one.low, one.high]));
      form.dataset.advised = found.advised.age;
      toLink(byId("what-if-link"), { kind: kind.name, ...Object.fromEntries(Object.entries(all).map(([name, one]) => [name, one.value])) });
    };
    const soon = () => { if (!waiting) waiting = requestAnimationFrame(now); };
    const all = sliders(form, soon);
    const other = () => {
      const kind = data.kinds[select.selectedIndex];
      Object.assign(all.age.range, { min: kind.age_range[0], max: kind.age_range[1], step: kind.age_step });
      Object.assign(all.age.field, { min: kind.age_range[0], max: kind.age_range[1], step: kind.age_step });
      all.build.range.max = kind.longest_build;
      all.build.field.max = kind.longest_build;
      Object.assign(all.price.range, { max: kind.most_price });
      all.age.set(kind.proposed);
      all.price.set(kind.price);
    };
    const take = () => {
      const given = fromLink();
      if (!given) return;
      const at = data.kinds.findIndex((one) => one.name === given.kind);
      select.selectedIndex = Math.max(at, 0);
      other();
      for (const name of Object.keys(all)) if (given[name] !== undefined) all[name].set(Number(given[name]));
      byId("what_if").closest("details").open = true;
    };
    select.addEventListener("change", () => { other(); now(); });
    window.addEventListener("hashchange", () => { take(); now(); });
    other();
    take();
    now();
    setTimeout(() => prepare(data.kinds), 50);
  });
})();
