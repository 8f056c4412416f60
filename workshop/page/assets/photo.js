// Marking a photo: picture and marks on a canvas, which zooms and pans; a loupe opposite the finger. What to tap, what was
// understood and every word come from the program: each mark is sent there at once, and is kept there.

const root = document.querySelector("[data-marking]");
const canvas = root?.querySelector("#picture");
if (canvas) mark(canvas);

function mark(canvas) {
  const draw = canvas.getContext("2d", { alpha: false });
  const tools = root.querySelector(".picture-tools");
  const nudges = root.querySelector("[data-nudges]");
  // Decoded once, not for each size at which it is drawn.
  let picture = null;
  let scene = JSON.parse(root.querySelector("#task").dataset.scene);
  // The picture's place on the canvas: screen = picture * scale + shift, in CSS pixels.
  let view = { scale: 1, x: 0, y: 0 };
  let size = { width: 0, height: 0, ratio: 1 };
  // The cross, in pixels of the picture; the loupe shows what is under it.
  let cross = [scene.width / 2, scene.height / 2];
  let crossIsShown = false;
  let loupe = null;
  let selected = null;
  let pending = [];
  let asked = false;

  const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
  const fit = () => Math.min(size.width / scene.width, size.height / scene.height);
  const toScreen = ([x, y]) => [x * view.scale + view.x, y * view.scale + view.y];
  const toPicture = ([x, y]) => [(x - view.x) / view.scale, (y - view.y) / view.scale];
  const inside = ([x, y]) => [clamp(x, 0, scene.width), clamp(y, 0, scene.height)];
  const isSame = (one, other) => one && other && one.step === other.step && one.number === other.number;

  // The picture never leaves the canvas: smaller than it, it stays in the middle.
  const settle = () => {
    view.scale = clamp(view.scale, fit(), Math.max(8, fit()));
    const along = (shift, side, room) => {
      const long = side * view.scale;
      return long <= room ? (room - long) / 2 : clamp(shift, room - long, 0);
    };
    view.x = along(view.x, scene.width, size.width);
    view.y = along(view.y, scene.height, size.height);
    redraw();
  };
  const zoom = (by, [x, y]) => {
    const [px, py] = toPicture([x, y]);
    view.scale = clamp(view.scale * by, fit(), Math.max(8, fit()));
    view.x = x - px * view.scale;
    view.y = y - py * view.scale;
    settle();
  };
  const whole = () => {
    view = { scale: fit(), x: 0, y: 0 };
    settle();
  };

  function redraw() {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => {
      asked = false;
      paint();
    });
  }

  // Light on dark, so that it shows on any photo.
  const stroke = (width, colour, dash = []) => {
    for (const [wide, ink, broken] of [[width + 2.5, "#10151acc", []], [width, colour, dash]]) {
      draw.lineWidth = wide;
      draw.strokeStyle = ink;
      draw.setLineDash(broken);
      draw.stroke();
    }
    draw.setLineDash([]);
  };
  const inks = { before: ["#ffd9a8", []], after: ["#82cbe9", []], axis: ["#82cbe9", [10, 4, 2, 4]], wrong: ["#f0a195", [6, 5]], ground: ["#ffffff", []] };

  const overlay = (place, isLarge) => {
    for (const { role, points, label } of scene.outlines) {
      const [colour, dash] = inks[role] ?? inks.before;
      draw.beginPath();
      points.forEach((point, index) => draw[index === 0 ? "moveTo" : "lineTo"](...place(point)));
      stroke(2, colour, dash);
      if (label && !isLarge) {
        const [x, y] = place(points[0]);
        draw.font = "bold 18px system-ui, sans-serif";
        draw.lineWidth = 4;
        draw.strokeStyle = "#10151acc";
        draw.strokeText(label, x + 10, y + 6);
        draw.fillStyle = colour;
        draw.fillText(label, x + 10, y + 6);
      }
    }
    for (const it of [...scene.marks, ...pending]) {
      const [x, y] = place(it.at);
      draw.beginPath();
      draw.arc(x, y, isSame(it, selected) ? 9 : 6, 0, 2 * Math.PI);
      stroke(2, isSame(it, selected) ? "#ffffff" : it.part === scene.open ? "#82cbe9" : "#ffd9a8");
    }
  };

  const cross_at = (x, y, reach) => {
    draw.beginPath();
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) {
      draw.moveTo(x + 4 * dx, y + 4 * dy);
      draw.lineTo(x + reach * dx, y + reach * dy);
    }
    stroke(1.5, "#ffffff");
  };

  function paint() {
    const { width, height, ratio } = size;
    draw.setTransform(ratio, 0, 0, ratio, 0, 0);
    draw.fillStyle = getComputedStyle(canvas).backgroundColor;
    draw.fillRect(0, 0, width, height);
    if (picture) {
      // Only the part that shows is drawn.
      const [left, top] = inside(toPicture([0, 0]));
      const [right, bottom] = inside(toPicture([width, height]));
      const [x, y] = toScreen([left, top]);
      const by = picture.width / scene.width;
      draw.imageSmoothingEnabled = view.scale < 4;
      draw.drawImage(picture, left * by, top * by, (right - left) * by, (bottom - top) * by, x, y, (right - left) * view.scale, (bottom - top) * view.scale);
    }
    overlay(toScreen, false);
    if (crossIsShown) cross_at(...toScreen(cross), 16);
    if (loupe) paintLoupe(loupe);
  }

  // Opposite the finger, at least twice the view.
  function paintLoupe([x, y]) {
    const radius = clamp(Math.min(size.width, size.height) * 0.22, 56, 96);
    const room = radius + 8;
    const centre = [x < size.width / 2 ? size.width - room : room, y < size.height / 2 && x > size.width / 4 && x < (3 * size.width) / 4 ? size.height - room : room];
    const scale = Math.max(2 * view.scale, 1.5);
    const [px, py] = toPicture([x, y]);
    draw.save();
    draw.beginPath();
    draw.arc(...centre, radius, 0, 2 * Math.PI);
    draw.fillStyle = "#10151a";
    draw.fill();
    draw.save();
    draw.clip();
    const reach = radius / scale;
    if (picture) {
      const by = picture.width / scene.width;
      draw.drawImage(picture, (px - reach) * by, (py - reach) * by, 2 * reach * by, 2 * reach * by, centre[0] - radius, centre[1] - radius, 2 * radius, 2 * radius);
    }
    overlay(([mx, my]) => [centre[0] + (mx - px) * scale, centre[1] + (my - py) * scale], true);
    draw.restore();
    cross_at(...centre, radius * 0.6);
    draw.beginPath();
    draw.arc(...centre, radius, 0, 2 * Math.PI);
    stroke(2.5, "#ffffff");
    draw.restore();
  }

  // One act after the other, so that each is told of what the one before changed.
  let last = Promise.resolve();
  const send = (fields) => {
    last = last.then(() => ask(fields));
    return last;
  };
  const ask = async (fields) => {
    try {
      const response = await fetch(root.dataset.address, {
        method: "POST",
        headers: { "X-Part": "marks", "Content-Type": "application/x-www-form-urlencoded" },
        body: new URLSearchParams(fields).toString(),
      });
      if (!response.ok) throw new Error(String(response.status));
      const parts = document.createElement("template");
      parts.innerHTML = await response.text();
      const held = document.activeElement?.closest("#task, #result") !== null;
      for (const part of [...parts.content.children]) document.getElementById(part.id)?.replaceWith(part);
      scene = JSON.parse(root.querySelector("#task").dataset.scene) ?? scene;
      pending = [];
      if (!scene.marks.some((it) => isSame(it, selected))) selected = null;
      // The button that was pressed may be gone: the next thing to do is told from its title.
      if (held) root.querySelector("#task-title").focus();
      root.querySelector("[data-lost-line]")?.remove();
      ready();
    } catch {
      pending = [];
      if (!root.querySelector("[data-lost-line]")) {
        const line = document.createElement("p");
        line.className = "error";
        line.setAttribute("role", "alert");
        line.dataset.lostLine = "";
        line.textContent = root.dataset.lost;
        root.querySelector("#task").append(line);
      }
    }
    redraw();
  };

  const ready = () => {
    nudges.hidden = scene.marks.length === 0;
    tools.querySelector('[data-tool="set"]').hidden = !scene.open;
    canvas.style.touchAction = scene.open || view.scale > fit() * 1.01 ? "none" : "pan-y";
    redraw();
  };

  const place = (at) => {
    if (!scene.open) return;
    const [x, y] = inside(at);
    pending.push({ part: scene.open, at: [x, y] });
    send({ act: "tap", part: scene.open, x, y }).then(() => {
      const mine = scene.marks.filter((it) => Math.hypot(it.at[0] - x, it.at[1] - y) < 0.2).pop();
      selected = mine ?? null;
      redraw();
    });
    redraw();
  };

  // Nudges that follow each other are sent once.
  let nudging = 0;
  const move = (it, at) => {
    it.at = inside(at);
    loupe = toScreen(it.at);
    redraw();
    clearTimeout(nudging);
    const { step, number } = it;
    nudging = setTimeout(() => {
      loupe = null;
      send({ act: "move", step, number, x: it.at[0], y: it.at[1] });
    }, 400);
  };
  const chosen = () => scene.marks.find((it) => isSame(it, selected)) ?? scene.marks.reduce((one, it) => (!one || it.step >= one.step ? it : one), null);
  const nudge = (dx, dy) => {
    const it = chosen();
    if (!it) return;
    selected = { step: it.step, number: it.number };
    move(it, [it.at[0] + dx, it.at[1] + dy]);
  };

  // Pointers: one taps, or pans where nothing is tapped; two pinch. A mouse pans while it is held.
  const pointers = new Map();
  let gesture = null;
  const here = (event) => {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  // While something is to be tapped a finger takes hold of no mark: one may have to stand beside another.
  const near = (at, isFinger) => {
    const reach = scene.open ? (isFinger ? 0 : 8) : 22;
    return scene.marks.find((it) => {
      const [x, y] = toScreen(it.at);
      return Math.hypot(x - at[0], y - at[1]) < reach;
    });
  };
  const middle = () => {
    const [one, other] = [...pointers.values()];
    return { at: [(one[0] + other[0]) / 2, (one[1] + other[1]) / 2], apart: Math.hypot(one[0] - other[0], one[1] - other[1]) };
  };
  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    canvas.setPointerCapture(event.pointerId);
    const at = here(event);
    pointers.set(event.pointerId, at);
    if (pointers.size === 2) {
      gesture = { kind: "pinch", ...middle() };
      loupe = null;
    } else if (pointers.size === 1) {
      const isFinger = event.pointerType !== "mouse";
      const held = near(at, isFinger);
      const kind = held ? "drag" : scene.open && isFinger ? "aim" : "pan";
      gesture = { kind, start: at, at, held, moved: false };
      if (kind === "aim") loupe = at;
      if (held) selected = { step: held.step, number: held.number };
    }
    crossIsShown = false;
    redraw();
  });
  canvas.addEventListener("pointermove", (event) => {
    const at = here(event);
    if (!pointers.has(event.pointerId)) {
      if (event.pointerType === "mouse" && scene.open) {
        loupe = at;
        redraw();
      }
      return;
    }
    pointers.set(event.pointerId, at);
    if (gesture?.kind === "pinch" && pointers.size === 2) {
      const now = middle();
      view.x += now.at[0] - gesture.at[0];
      view.y += now.at[1] - gesture.at[1];
      zoom(now.apart / Math.max(gesture.apart, 1), now.at);
      gesture = { kind: "pinch", ...now };
      return;
    }
    if (!gesture || gesture.kind === "pinch") return;
    gesture.moved ||= Math.hypot(at[0] - gesture.start[0], at[1] - gesture.start[1]) > 6;
    if (gesture.kind === "aim") loupe = at;
    if (gesture.kind === "drag" && gesture.moved) {
      gesture.held.at = inside(toPicture(at));
      loupe = at;
    }
    if (gesture.kind === "pan" && gesture.moved) {
      view.x += at[0] - gesture.at[0];
      view.y += at[1] - gesture.at[1];
      gesture.at = at;
      loupe = null;
      settle();
      return;
    }
    gesture.at = at;
    redraw();
  });
  const lift = (event) => {
    if (!pointers.delete(event.pointerId)) return;
    const done = gesture;
    if (pointers.size > 0) return;
    gesture = null;
    loupe = null;
    if (event.type === "pointerup" && done) {
      const at = here(event);
      if (done.kind === "aim" || (done.kind === "pan" && !done.moved)) place(toPicture(at));
      if (done.kind === "drag" && done.moved) {
        const { step, number, at: to } = done.held;
        send({ act: "move", step, number, x: to[0], y: to[1] });
      }
    }
    redraw();
  };
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("pointerleave", () => {
    if (pointers.size > 0) return;
    loupe = null;
    redraw();
  });
  canvas.addEventListener(
    "wheel",
    (event) => {
      event.preventDefault();
      zoom(Math.exp(-clamp(event.deltaY, -120, 120) / (event.ctrlKey ? 60 : 240)), here(event));
    },
    { passive: false },
  );

  const show = (at) => {
    cross = inside(at);
    crossIsShown = true;
    const [x, y] = toScreen(cross);
    const edge = 24;
    view.x += clamp(x, edge, size.width - edge) - x;
    view.y += clamp(y, edge, size.height - edge) - y;
    settle();
  };
  const centre = () => [size.width / 2, size.height / 2];
  const arrows = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  canvas.addEventListener("keydown", (event) => {
    const arrow = arrows[event.key];
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (arrow && selected && !crossIsShown) nudge(arrow[0] * (event.shiftKey ? 10 : 1), arrow[1] * (event.shiftKey ? 10 : 1));
    else if (arrow) {
      const by = event.shiftKey ? 1 : 12 / view.scale;
      show([cross[0] + arrow[0] * by, cross[1] + arrow[1] * by]);
    } else if (event.key === "Enter" || event.key === " ") place(crossIsShown ? cross : toPicture(centre()));
    else if (event.key === "+" || event.key === "=") zoom(1.25, crossIsShown ? toScreen(cross) : centre());
    else if (event.key === "-") zoom(0.8, crossIsShown ? toScreen(cross) : centre());
    else if (event.key === "0") whole();
    else if (event.key === "Backspace") send({ act: "back" });
    else if (event.key === "Escape") {
      selected = null;
      show(cross);
    } else return;
    event.preventDefault();
  });
  const does = {
    in: () => zoom(1.5, crossIsShown ? toScreen(cross) : centre()),
    out: () => zoom(1 / 1.5, crossIsShown ? toScreen(cross) : centre()),
    fit: whole,
    set: () => (crossIsShown ? place(cross) : show(toPicture(centre()))),
    left: () => nudge(-1, 0),
    right: () => nudge(1, 0),
    up: () => nudge(0, -1),
    down: () => nudge(0, 1),
  };
  tools.addEventListener("click", (event) => does[event.target.closest("[data-tool]")?.dataset.tool]?.());

  // Choices go the same way as marks, without leaving the page.
  root.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-act]")) return;
    event.preventDefault();
    selected = null;
    send(Object.fromEntries(new FormData(event.target)));
  });

  const resize = () => {
    const box = canvas.getBoundingClientRect();
    const ratio = Math.min(devicePixelRatio || 1, 2);
    const isWhole = view.scale <= fit() * 1.001 || size.width === 0;
    size = { width: box.width, height: box.height, ratio };
    canvas.width = Math.round(box.width * ratio);
    canvas.height = Math.round(box.height * ratio);
    if (isWhole) whole();
    else settle();
  };
  root.querySelector(".still").hidden = true;
  canvas.hidden = tools.hidden = false;
  canvas.style.aspectRatio = `${scene.width} / ${scene.height}`;
  new ResizeObserver(resize).observe(canvas);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  const source = new Image();
  source.src = canvas.dataset.src;
  source
    .decode()
    .then(() => createImageBitmap(source))
    .then((bitmap) => {
      picture = bitmap;
      canvas.dataset.ready = "yes";
      redraw();
    })
    .catch(() => {
      // Without its picture there is nothing to mark: the still one says what it shows.
      root.querySelector(".still").hidden = false;
      canvas.hidden = tools.hidden = true;
    });
  ready();
}
