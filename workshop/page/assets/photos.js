// What the screen of a bike's photos does better with a script: several at once with their progress, dragging, pasting,
// and two photos laid over each other. Everything else works without it.

const all = (selector, root = document) => [...root.querySelectorAll(selector)];

for (const form of all("form[data-photos]")) {
  const address = form.getAttribute("action");
  const uploads = document.querySelector("[data-uploads]");
  const named = (text, name) => text.replace("{name}", name);
  const waiting = [];
  let running = false;
  form.classList.add("live");

  // The answer of the program, which is text in its own marks.
  const tell = (row, markup) => {
    const part = document.createElement("template");
    part.innerHTML = markup;
    row.replaceChildren(part.content);
  };

  const send = ({ row, file, progress, request }) =>
    new Promise((resolve) => {
      const end = (markup) => {
        if (markup) tell(row, markup);
        resolve();
      };
      const say = (text) => {
        const line = document.createElement("p");
        line.textContent = named(text, file.name);
        row.replaceChildren(line);
        resolve();
      };
      if (row.dataset.stopped) return say(form.dataset.stopped);
      const body = new FormData();
      body.append("photo", file, file.name || "photo");
      request.upload.addEventListener("progress", (event) => {
        if (event.lengthComputable) progress.value = event.loaded / event.total;
      });
      request.addEventListener("load", () => {
        const isTold = request.status === 200 || request.status === 422;
        return isTold ? end(request.responseText) : say(form.dataset.cutOff);
      });
      request.addEventListener("error", () => say(form.dataset.cutOff));
      request.addEventListener("abort", () => say(form.dataset.stopped));
      request.open("POST", address);
      request.setRequestHeader("X-Part", "photo");
      request.send(body);
    });

  const refresh = async () => {
    const response = await fetch(address, { headers: { "X-Part": "list" } });
    if (response.ok) document.getElementById("photo-list").outerHTML = await response.text();
  };

  const work = async () => {
    if (running) return;
    running = true;
    while (waiting.length > 0) {
      await send(waiting.shift());
      await refresh().catch(() => {});
    }
    running = false;
  };

  const add = (files) => {
    for (const file of files) {
      const row = document.createElement("li");
      const text = document.createElement("p");
      text.textContent = named(form.dataset.adding, file.name);
      const progress = document.createElement("progress");
      progress.max = 1;
      progress.setAttribute("aria-label", text.textContent);
      const stop = document.createElement("button");
      stop.type = "button";
      stop.className = "quiet";
      stop.textContent = form.dataset.stop;
      const request = new XMLHttpRequest();
      stop.addEventListener("click", () => {
        row.dataset.stopped = "yes";
        stop.disabled = true;
        request.abort();
      });
      row.append(text, progress, stop);
      uploads.append(row);
      waiting.push({ row, file, progress, request });
    }
    work();
  };

  for (const input of all("[type=file]", form)) {
    input.addEventListener("change", () => {
      add([...input.files]);
      input.value = "";
    });
  }
  const files = (transfer) => [...(transfer?.files ?? [])];
  document.addEventListener("dragover", (event) => {
    if (![...event.dataTransfer.types].includes("Files")) return;
    event.preventDefault();
    form.classList.add("over");
  });
  document.addEventListener("dragleave", (event) => {
    if (!event.relatedTarget) form.classList.remove("over");
  });
  document.addEventListener("drop", (event) => {
    form.classList.remove("over");
    if (files(event.dataTransfer).length === 0) return;
    event.preventDefault();
    add(files(event.dataTransfer));
  });
  document.addEventListener("paste", (event) => {
    if (files(event.clipboardData).length === 0) return;
    event.preventDefault();
    add(files(event.clipboardData));
  });
}

// Two photos over each other.
for (const pair of all("[data-overlaid]")) {
  const second = pair.querySelector(".second");
  const slider = document.querySelector("[data-blend]");
  const input = slider.querySelector("input");
  const blend = () => (second.style.opacity = String(input.valueAsNumber / 100));
  pair.classList.add("laid");
  second.style.left = `${100 * Number(pair.dataset.left)}%`;
  second.style.width = `${100 * Number(pair.dataset.width)}%`;
  slider.hidden = false;
  input.addEventListener("input", blend);
  blend();
}
