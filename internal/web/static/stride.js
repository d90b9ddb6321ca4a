// The drawing of a check: steps through a stride by phases, and takes the
// coach's own points and times. Nothing is sent before "Save".
import { say } from "./say.js";

const source = document.getElementById("stride-data");
if (source) start(JSON.parse(source.textContent));

function start(data) {
  const SVG = "http://www.w3.org/2000/svg";
  const form = document.getElementById("corrections");
  const root = document.getElementById("stepper");
  const state = { foot: 0, phase: 0, frame: 0, joint: -1, moving: false, close: false };
  const fix = { points: data.fix.points ?? [], events: data.fix.events ?? [] };
  const saved = JSON.stringify(fix);
  let sending = false;

  const foot = () => data.feet[state.foot];
  const frame = () => foot().frames[state.frame];
  const changed = () => JSON.stringify(fix) !== saved;
  const capital = (s) => s[0].toUpperCase() + s.slice(1);
  const figure = new Intl.NumberFormat(document.documentElement.lang, { minimumFractionDigits: 3, maximumFractionDigits: 3 });
  const seconds = (t) => figure.format(t) + " s";
  const nameOf = (j) => capital(data.joint_names[j]);
  const spotName = (j, hand) => hand ? say("%s, set by hand", nameOf(j)) : nameOf(j);
  const footName = (f) => f.side === "left" ? say("Left foot") : say("Right foot");

  // Places: the track's pixels to the picture's, and back.
  const put = (f, [x, y]) => [f.place[0] * x + f.place[1] * y + f.place[2], f.place[3] * x + f.place[4] * y + f.place[5]];
  function back(f, [x, y]) {
    const [a, b, c, d, e, g] = f.place, det = a * e - b * d;
    return [(e * (x - c) - b * (y - g)) / det, (a * (y - g) - d * (x - c)) / det];
  }

  // Points by hand.
  const wordsOf = (j) => {
    const [side, point] = data.joints[j].includes(" ") ? data.joints[j].split(" ") : ["mid", data.joints[j]];
    return { side, point };
  };
  const sameTime = (a, b) => Math.abs(a - b) < 0.0011;
  function handOf(f, j) {
    const { side, point } = wordsOf(j);
    return fix.points.findIndex((p) => p.point === point && p.side === side && sameTime(p.time_s, f.time_s));
  }
  function spotOf(f, j) {
    const i = handOf(f, j);
    return i >= 0 ? [fix.points[i].x_px, fix.points[i].y_px] : f.spots[j];
  }
  function place(j, at) {
    const f = frame();
    if (data.width && !data.moved) at = [clamp(at[0], 0, data.width), clamp(at[1], 0, data.height)];
    at = at.map((v) => Math.round(10 * v) / 10);
    const i = handOf(f, j), { side, point } = wordsOf(j);
    const p = { time_s: f.time_s, point, side, x_px: at[0], y_px: at[1] };
    if (i >= 0) fix.points[i] = p; else fix.points.push(p);
  }
  const clamp = (v, low, high) => Math.min(Math.max(v, low), high);

  // Times by hand: a foot lands, or leaves, between the last picture before
  // and the first picture after.
  const kinds = { "initial contact": "contact", "toe-off": "toe_off" };
  const kind = () => kinds[foot().phases[state.phase].name];
  const gap = (frames) => Math.min(...frames.slice(1).map((f, i) => f.time_s - frames[i].time_s));
  function eventOf(k) {
    const m = foot()[k];
    return fix.events.find((e) => e.kind === k && e.side === foot().side && Math.abs(e.found_s - m.found_s) < 1e-6);
  }
  const timeOf = (k) => eventOf(k)?.time_s ?? foot()[k].found_s;
  function setEvent(k, i) {
    const frames = foot().frames, step = frames.length > 1 ? gap(frames) : 1 / 60;
    const before = i > 0 && frames[i].time_s - frames[i - 1].time_s < 1.6 * step ? frames[i - 1].time_s : frames[i].time_s - step;
    clearEvent(k);
    fix.events.push({ kind: k, side: foot().side, found_s: foot()[k].found_s, time_s: (before + frames[i].time_s) / 2 });
  }
  function clearEvent(k) {
    const e = eventOf(k);
    if (e) fix.events.splice(fix.events.indexOf(e), 1);
  }
  const firstAfter = (k) => foot().frames.findIndex((f) => f.time_s > timeOf(k));

  // Elements.
  function make(name, props = {}, ...children) {
    const e = document.createElement(name);
    for (const [k, v] of Object.entries(props)) {
      if (k.startsWith("on")) e.addEventListener(k.slice(2), v);
      else if (v === true) e.setAttribute(k, "");
      else if (v !== false && v != null) e.setAttribute(k, v);
    }
    e.append(...children);
    return e;
  }
  function draw(name, props) {
    const e = document.createElementNS(SVG, name);
    for (const [k, v] of Object.entries(props)) e.setAttribute(k, v);
    return e;
  }

  const feet = make("div", { class: "feet", role: "group", "aria-label": say("Foot") });
  const rail = make("div", { class: "rail", role: "group", "aria-label": say("Phases of the stride") });
  const view = make("div", { class: "view" });
  const where = make("p", { class: "where", "aria-live": "polite" });
  const steps = make("div", { class: "steps" },
    make("button", { type: "button", class: "quiet", onclick: () => goPhase(-1) }, "← " + say("Phase before")),
    make("button", { type: "button", class: "quiet", onclick: () => goPhase(1) }, say("Next phase") + " →"));
  const pictures = make("div", { class: "steps" },
    make("button", { type: "button", class: "quiet", onclick: () => goFrame(-1) }, say("Picture before")),
    make("button", { type: "button", class: "quiet", onclick: () => goFrame(1) }, say("Next picture")));
  const eventPanel = make("section", { class: "panel", "aria-label": say("Landing and toe-off") });
  const pointPanel = make("section", { class: "panel", "aria-label": say("Points") });
  const save = make("button", { type: "button", onclick: send }, say("Save and measure again"));
  const drop = make("button", { type: "button", class: "quiet", onclick: () => { Object.assign(fix, JSON.parse(saved)); show(); } }, say("Drop my changes"));
  const trouble = make("p", { role: "alert" });
  const act = make("div", { class: "act" }, trouble, save, drop);
  const side = make("div", { class: "side" }, where, steps, pictures);
  if (form) side.append(eventPanel, pointPanel, act);
  root.append(feet, rail, view, side);

  const svg = draw("svg", { class: "still", role: "group", preserveAspectRatio: "xMidYMid" });
  view.append(svg);
  let drawn = null; // what stands in svg, by the frame it is of

  function goFoot(i) { state.foot = i; state.joint = -1; goTo(state.phase); }
  function goTo(i) {
    state.phase = clamp(i, 0, foot().phases.length - 1);
    state.frame = foot().phases[state.phase].frame;
    const k = kind();
    if (k && eventOf(k)) state.frame = Math.max(firstAfter(k), 0);
    show();
  }
  function goPhase(by) {
    const n = state.phase + by;
    if (n >= 0 && n < foot().phases.length) { goTo(n); return; }
    if (data.feet.length < 2) return;
    state.foot = 1 - state.foot;
    state.joint = -1;
    goTo(by > 0 ? 0 : foot().phases.length - 1);
  }
  function goFrame(by) {
    state.frame = clamp(state.frame + by, 0, foot().frames.length - 1);
    show();
  }

  function show() {
    feet.replaceChildren(...data.feet.map((f, i) => make("button", {
      type: "button", "aria-pressed": String(i === state.foot), onclick: () => { goFoot(i); feet.children[i].focus(); },
    }, f.near ? footName(f) : say("%s (far)", footName(f)))));
    rail.replaceChildren(...foot().phases.map((p, i) => make("button", {
      type: "button", "aria-current": i === state.phase ? "step" : null, class: kinds[p.name] && eventOf(kinds[p.name]) ? "by-hand" : null,
      onclick: () => { goTo(i); rail.children[i].focus(); },
    }, capital(p.name))));
    const f = frame(), p = foot().phases[state.phase];
    where.replaceChildren(make("b", {}, capital(p.title)),
      make("span", { class: "quiet" }, say("%s, %s, picture %d of %d", footName(foot()), seconds(f.time_s), state.frame + 1, foot().frames.length)));
    pictures.children[0].disabled = state.frame === 0;
    pictures.children[1].disabled = state.frame === foot().frames.length - 1;
    paint();
    if (form) { showEvent(); showPoint(); showSave(); }
  }

  // paint draws the frame: the picture, the lines on an edge, the points.
  function paint() {
    const f = frame();
    svg.setAttribute("aria-label", say("%s at %s, with the body’s lines", footName(foot()), seconds(f.time_s)));
    svg.classList.toggle("set", state.moving);
    if (drawn?.frame !== f || drawn.moving !== state.moving) {
      const near = foot().near ? foot().side : foot().side === "left" ? "right" : "left";
      const parts = [draw("rect", { class: "paper", width: f.w, height: f.h })];
      if (f.src) parts.push(draw("image", { href: f.src, width: f.w, height: f.h, "aria-hidden": "true" }));
      drawn = { frame: f, moving: state.moving, lines: [], spots: new Map(), was: draw("line", { class: "was" }), plumb: draw("line", { class: "plumb" }) };
      parts.push(drawn.plumb);
      for (const edge of [true, false]) {
        for (const [a, b] of data.bones) {
          const [sa, pa] = data.joints[a].split(" "), pb = data.joints[b].split(" ")[1];
          const l = draw("line", { class: (edge ? "casing " : "") + (sa === near ? "near" : "far") + (pa === "heel" && pb === "toe" ? " sole" : "") });
          drawn.lines.push([l, a, b]);
          parts.push(l);
        }
      }
      parts.push(drawn.was);
      if (state.moving) for (let j = 0; j < data.joints.length; j++) {
        if (!spotOf(f, j)) continue;
        const c = draw("circle", { class: "spot", role: "button", "aria-label": nameOf(j), "data-joint": j });
        drawn.spots.set(j, c);
        parts.push(c);
      }
      svg.replaceChildren(...parts);
    }
    update();
  }

  function update() {
    const f = frame();
    const at = (j) => { const s = spotOf(f, j); return s && put(f, s); };
    for (const [l, a, b] of drawn.lines) {
      const p = at(a), q = at(b);
      l.style.display = p && q ? "" : "none";
      if (p && q) set(l, { x1: p[0], y1: p[1], x2: q[0], y2: q[1] });
    }
    const hips = [data.joints.indexOf("left hip"), data.joints.indexOf("right hip")].map(at).filter(Boolean);
    drawn.plumb.style.display = hips.length ? "" : "none";
    if (hips.length) {
      const x = hips.reduce((s, h) => s + h[0], 0) / hips.length, y = hips.reduce((s, h) => s + h[1], 0) / hips.length;
      const lean = Math.tan(data.tilt_deg * Math.PI / 180);
      set(drawn.plumb, { x1: x + lean * y, y1: 0, x2: x - lean * (f.h - y), y2: f.h });
    }
    const box = viewBox(f, at);
    svg.setAttribute("viewBox", box.join(" "));
    const unit = unitOf(box);
    for (const [j, c] of drawn.spots) {
      const p = at(j), hand = handOf(f, j) >= 0, chosen = j === state.joint;
      set(c, { cx: p[0], cy: p[1], r: (chosen ? 8 : 5.5) * unit, tabindex: chosen || state.joint < 0 && j === 0 ? 0 : -1, "aria-pressed": chosen });
      c.classList.toggle("by-hand", hand);
      c.classList.toggle("chosen", chosen);
      c.setAttribute("aria-label", spotName(j, hand));
    }
    const moved = state.moving && state.joint >= 0 && handOf(f, state.joint) >= 0 && f.spots[state.joint];
    drawn.was.style.display = moved ? "" : "none";
    if (moved) {
      const p = put(f, f.spots[state.joint]), q = at(state.joint);
      set(drawn.was, { x1: p[0], y1: p[1], x2: q[0], y2: q[1] });
    }
  }
  function set(e, props) { for (const [k, v] of Object.entries(props)) e.setAttribute(k, typeof v === "number" ? Math.round(100 * v) / 100 : v); }

  // unitOf is how much of the picture a pixel of the screen shows.
  const unitOf = (box) => Math.max(box[2] / Math.max(svg.clientWidth, 100), box[3] / Math.max(svg.clientHeight, 100));

  // viewBox is the whole picture, or a third of it about the chosen point,
  // the foot where none is chosen.
  let still = null; // the view stays while a point is dragged
  function viewBox(f, at) {
    if (!state.close) return [0, 0, f.w, f.h];
    if (still) return still;
    const joint = state.joint >= 0 ? state.joint : data.joints.indexOf(foot().side + " ankle");
    const p = at(joint) ?? [f.w / 2, f.h / 2], w = f.w / 3, h = f.h / 3;
    return [clamp(p[0] - w / 2, 0, f.w - w), clamp(p[1] - h / 2, 0, f.h - h), w, h];
  }

  function showEvent() {
    const k = kind();
    eventPanel.hidden = !k;
    if (!k) return;
    const e = eventOf(k), lands = k === "contact", found = foot()[k].found_s;
    const by = e ? Math.round(1000 * (e.time_s - found)) : 0;
    const first = firstAfter(k);
    const text = !e ? say("Found at %s.", seconds(found))
      : by === 0 ? say("Set by hand to %s, as found.", seconds(e.time_s))
      : by > 0 ? say("Set by hand to %s, %d ms later than the %s that was found.", seconds(e.time_s), by, seconds(found))
      : say("Set by hand to %s, %d ms earlier than the %s that was found.", seconds(e.time_s), -by, seconds(found));
    const before = state.frame < first || first < 0;
    const here = first === state.frame ? lands ? say("This is the first picture with the foot on the ground.") : say("This is the first picture with the foot off the ground.")
      : before ? lands ? say("In this picture the foot is still in the air.") : say("In this picture the foot is still down.")
      : lands ? say("In this picture the foot is already down.") : say("In this picture the foot is already in the air.");
    eventPanel.replaceChildren(make("h2", {}, lands ? say("Where the foot lands") : say("Where the foot leaves")),
      make("p", {}, text + " " + here),
      make("div", { class: "row" },
        make("button", { type: "button", class: "quiet", onclick: () => { setEvent(k, state.frame); show(); } }, lands ? say("It lands in this picture") : say("It leaves in this picture")),
        make("button", { type: "button", class: "quiet", disabled: !e, onclick: () => { clearEvent(k); show(); } }, say("As found"))));
  }

  function showPoint() {
    const f = frame(), j = state.joint;
    const kids = [make("h2", {}, say("Points")), make("div", { class: "row" },
      make("button", { type: "button", class: "quiet", "aria-pressed": String(state.moving), onclick: () => { state.moving = !state.moving; if (!state.moving) state.joint = -1; show(); } }, state.moving ? say("Done with points") : say("Move points")),
      make("button", { type: "button", class: "quiet", "aria-pressed": String(state.close), onclick: () => { state.close = !state.close; show(); } }, state.close ? say("Whole body") : say("Closer")))];
    if (state.moving) {
      const choice = make("select", { onchange: (e) => { state.joint = Number(e.target.value); show(); } },
        make("option", { value: -1 }, say("Choose a point")),
        ...data.joints.map((_, i) => make("option", { value: i, selected: i === j }, spotName(i, handOf(f, i) >= 0))));
      kids.push(make("p", { class: "hint" }, say("Drag a point with finger or mouse, or choose it and move it by arrow keys (with Shift, five times as far).")),
        make("label", {}, say("Point"), choice));
      if (j >= 0) kids.push(make("div", { class: "row ways" },
        ...[["←", say("Move to the left: %s", nameOf(j)), -1, 0], ["↑", say("Move up: %s", nameOf(j)), 0, -1], ["↓", say("Move down: %s", nameOf(j)), 0, 1], ["→", say("Move to the right: %s", nameOf(j)), 1, 0]].map(([sign, word, x, y]) =>
          make("button", { type: "button", class: "quiet", "aria-label": word, onclick: () => { nudge(x, y); } }, sign))), make("div", { class: "row" },
        make("button", { type: "button", class: "quiet", disabled: handOf(f, j) < 0, onclick: putBack }, say("As found"))));
    }
    const had = document.activeElement?.closest?.(".panel") === pointPanel ? focusPath(pointPanel) : null;
    pointPanel.replaceChildren(...kids);
    had?.();
  }
  // focusPath remembers which control had the focus, to give it back.
  function focusPath(panel) {
    const all = () => [...panel.querySelectorAll("button,select")];
    const i = all().indexOf(document.activeElement);
    return () => all()[i]?.focus();
  }
  function putBack() {
    const i = handOf(frame(), state.joint);
    if (i >= 0) fix.points.splice(i, 1);
    show();
  }
  function nudge(x, y) {
    const f = frame(), s = spotOf(f, state.joint);
    const [px, py] = s ? put(f, s) : [f.w / 2, f.h / 2];
    const one = Math.hypot(f.place[0], f.place[3]); // a pixel of the clip
    place(state.joint, back(f, [px + x * one, py + y * one]));
    if (!s) drawn = null;
    show();
  }

  function showSave() {
    const n = fix.points.length + fix.events.length;
    act.hidden = !changed() && trouble.textContent === "";
    save.disabled = sending || !changed();
    drop.disabled = sending || !changed();
    save.textContent = sending ? say("Measuring…") : n ? say("Save %d and measure again", n) : say("Save without corrections");
  }

  // Dragging: the nearest point within a finger's width is taken.
  let drag = null;
  const inPicture = (e) => {
    const p = new DOMPoint(e.clientX, e.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return [p.x, p.y];
  };
  svg.addEventListener("pointerdown", (e) => {
    if (!state.moving || e.button > 0) return;
    const at = inPicture(e), f = frame(), unit = unitOf(svg.getAttribute("viewBox").split(" ").map(Number));
    let best = -1, far = 26 * unit;
    for (const j of drawn.spots.keys()) {
      const p = put(f, spotOf(f, j)), d = Math.hypot(p[0] - at[0], p[1] - at[1]);
      if (d < far) { best = j; far = d; }
    }
    if (best < 0) return;
    e.preventDefault();
    still = svg.getAttribute("viewBox").split(" ").map(Number);
    const p = put(f, spotOf(f, best));
    drag = { joint: best, off: [p[0] - at[0], p[1] - at[1]], id: e.pointerId, moved: false };
    state.joint = best;
    svg.setPointerCapture(e.pointerId);
    update();
    drawn.spots.get(best).focus({ preventScroll: true });
  });
  svg.addEventListener("pointermove", (e) => {
    if (drag?.id !== e.pointerId) return;
    const at = inPicture(e);
    drag.moved = true;
    place(drag.joint, back(frame(), [at[0] + drag.off[0], at[1] + drag.off[1]]));
    update();
  });
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, (e) => {
    if (drag?.id !== e.pointerId) return;
    drag = still = null;
    show();
  });
  svg.addEventListener("focusin", (e) => {
    const j = e.target.dataset?.joint;
    if (j == null || Number(j) === state.joint || drag) return;
    state.joint = Number(j);
    update();
    showPoint();
  });

  // Keys: arrows step through the phases, or move the point that has the
  // focus; comma and full stop step through the pictures.
  document.addEventListener("keydown", (e) => {
    if (e.ctrlKey || e.altKey || e.metaKey || e.target.matches?.("select,input,textarea")) return;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    const onSpot = e.target.dataset?.joint != null && state.moving;
    if (way && onSpot) {
      e.preventDefault();
      const by = e.shiftKey ? 5 : 1, j = state.joint;
      nudge(by * way[0], by * way[1]);
      drawn.spots.get(j)?.focus({ preventScroll: true });
    } else if (onSpot && (e.key === "Delete" || e.key === "Backspace")) {
      e.preventDefault();
      putBack();
      drawn.spots.get(state.joint)?.focus({ preventScroll: true });
    } else if (e.key === "Escape" && state.moving) {
      state.moving = false;
      state.joint = -1;
      show();
    } else if (way && way[0]) {
      e.preventDefault();
      goPhase(way[0]);
    } else if (e.key === "," || e.key === ".") {
      goFrame(e.key === "," ? -1 : 1);
    }
  });

  async function send() {
    sending = true;
    trouble.textContent = "";
    showSave();
    try {
      const body = new URLSearchParams({ version: data.version, corrections: JSON.stringify(fix) });
      const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" } });
      const said = await answer.json().catch(() => ({}));
      if (!answer.ok) throw new Error(said.error ?? say("This did not work. Your corrections still stand here; try again."));
      sessionStorage.setItem(key, JSON.stringify({ foot: state.foot, phase: state.phase }));
      leaving = true;
      location.reload();
      return;
    } catch (e) {
      trouble.textContent = e instanceof TypeError ? say("The server can’t be reached. Your corrections still stand here; try again.") : e.message;
    }
    sending = false;
    showSave();
  }
  let leaving = false;
  const key = "stride " + location.pathname;
  window.addEventListener("beforeunload", (e) => { if (changed() && !leaving) e.preventDefault(); });
  window.addEventListener("resize", update);

  document.getElementById("all").hidden = true;
  root.hidden = false;
  const at = JSON.parse(sessionStorage.getItem(key) ?? "null");
  sessionStorage.removeItem(key);
  state.foot = clamp(at?.foot ?? Math.max(data.feet.findIndex((f) => f.near), 0), 0, data.feet.length - 1);
  goTo(at?.phase ?? 0);
}
