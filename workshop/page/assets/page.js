// What the page does better with a script: the number pad, live sliders, a draft that survives. Everything else works
// without it.

const all = (selector, root = document) => [...root.querySelectorAll(selector)];

for (const element of all(".no-script")) element.hidden = true;

// The number pad: on a touch screen in place of the system's keyboard.
for (const pad of all("[data-pad]")) {
  const input = pad.closest("form").querySelector("[name=value]");
  const isTouch = matchMedia("(pointer: coarse)").matches;
  pad.hidden = false;
  if (isTouch) input.inputMode = "none";
  // The decimal key is the one of the reader's language.
  const mark = (1.5).toLocaleString().charAt(1);
  const point = pad.querySelector('[data-key="."]');
  if (point && mark === ",") {
    point.dataset.key = ",";
    point.textContent = ",";
  }
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("[data-key]")?.dataset.key;
    if (!key) return;
    const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
    if (key === "⌫") {
      const start = from === to ? Math.max(0, from - 1) : from;
      input.setRangeText("", start, to, "end");
    } else {
      input.setRangeText(key, from, to, "end");
    }
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.focus();
  });
}

// A number that is being typed survives leaving the page; writing it down ends the draft.
for (const form of all("form[data-draft]")) {
  const input = form.querySelector("[name=value]");
  const name = `draft ${location.pathname}`;
  if (!input.value) input.value = sessionStorage.getItem(name) ?? "";
  input.addEventListener("input", () => sessionStorage.setItem(name, input.value));
  form.addEventListener("submit", () => sessionStorage.removeItem(name));
}

// A chosen file goes into the form as its text.
for (const form of all("form[data-file]")) {
  const [file, label, text] = ["[type=file]", "[data-file-label]", "textarea"].map((it) => form.querySelector(it));
  file.hidden = label.hidden = false;
  file.addEventListener("change", async () => {
    if (file.files[0]) text.value = await file.files[0].text();
  });
}

// Sliders redraw while they move. One request at a time; the latest position wins.
for (const form of all("form[data-live]")) {
  let running = false;
  let waiting = false;
  const redraw = async () => {
    if (running) {
      waiting = true;
      return;
    }
    running = true;
    const address = `${form.getAttribute("action")}?${new URLSearchParams(new FormData(form))}`;
    try {
      const response = await fetch(address, { headers: { "X-Part": "result" } });
      if (response.ok) {
        const result = document.createElement("template");
        result.innerHTML = await response.text();
        for (const part of all("[id^=steering-]", result.content)) document.getElementById(part.id)?.replaceWith(part);
        for (const text of all("[data-new-text]", result.content)) {
          const output = form.querySelector(`[data-text="${text.dataset.newText}"]`);
          if (output) output.textContent = text.textContent;
        }
        history.replaceState(null, "", address);
      }
    } finally {
      running = false;
      if (waiting) {
        waiting = false;
        redraw();
      }
    }
  };
  form.addEventListener("input", redraw);
  for (const button of all("[data-nudge]", form)) {
    button.hidden = false;
    button.addEventListener("click", () => {
      const slider = document.getElementById(button.dataset.for);
      if (button.dataset.nudge === "1") slider.stepUp();
      else slider.stepDown();
      slider.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }
}

// Another tab, a delivery or the command line changed the book: a page that is only read shows it at once, one on which
// something is typed or moved says so. A tab that is not seen does not listen, since a browser keeps few connections to
// one place.
if (document.body.dataset.version) {
  const content = document.querySelector("#content");
  let source;
  let typed = content.querySelector("[data-live], [data-pad], [role=alert], textarea") !== null;
  document.addEventListener("input", () => (typed = true));
  const text = (page) => {
    const copy = page.cloneNode(true);
    for (const said of all(".said", copy)) said.remove();
    return copy.textContent;
  };
  const changed = async () => {
    const response = await fetch(location.href);
    if (!response.ok) return;
    const page = new DOMParser().parseFromString(await response.text(), "text/html");
    const now = page.querySelector("#content");
    document.body.dataset.version = page.body.dataset.version;
    if (!now || text(now) === text(content) || content.querySelector("[data-elsewhere]")) return;
    if (!typed) {
      content.replaceChildren(...all(":scope > .said", content), ...now.childNodes);
      return;
    }
    const note = Object.assign(document.createElement("p"), { className: "notice" });
    note.dataset.elsewhere = "";
    note.setAttribute("role", "status");
    note.append(Object.assign(document.createElement("a"), { href: location.href, textContent: document.body.dataset.changed }));
    content.prepend(note);
  };
  const listen = () => {
    source?.close();
    if (document.hidden) return;
    source = new EventSource(`/changes?since=${document.body.dataset.version}`);
    source.addEventListener("message", changed);
  };
  document.addEventListener("visibilitychange", listen);
  listen();
}
