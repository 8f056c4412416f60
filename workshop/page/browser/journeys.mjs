// Journeys through the page as a user walks them, and accessibility of every screen.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { test } from "node:test";
import { bike, bikes, command, journey, open, said, screens, sees, serve, withPhotos } from "./place.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

journey("by mouse: the drawing's answer, the next step, a reading, undo", {}, async (tab, place) => {
  await tab.goto(await bike(tab, place, "Hire bike 03"));
  await tab.locator(".answer h2:visible", { hasText: /Not decided yet/ }).waitFor();
  await tab.locator(".step").locator("visible=true").click();
  await sees(tab, "h1", /Upper bearing outside diameter/);
  for (const key of ["4", "1", ".", "9", "⌫", "8"]) await tab.locator(`[data-key="${key}"]`).click();
  assert.equal(await tab.locator("#value").inputValue(), "41.8");
  await tab.getByRole("button", { name: "Write it down" }).click();
  await said(tab, /41\.8 mm is written down\..*out now/);
  await tab.getByRole("button", { name: "Undo" }).first().click();
  await said(tab, /Undone: write down a measurement \(Hire bike 03\): upper bearing outside diameter 41\.8 mm/);
});

journey("a dimension of the drawing opens its measuring, a seat what it looks like", {}, async (tab, place) => {
  const address = await bike(tab, place, "Hire bike 03");
  await tab.goto(address);
  await tab.locator("text", { hasText: /^upper throat/ }).first().click({ position: { x: 2, y: 2 }, force: true });
  await sees(tab, "h1", /Upper throat diameter/);
  await tab.goto(address);
  await tab.getByRole("link", { name: /^lower seat: what it looks like/ }).focus();
  await tab.keyboard.press("Enter");
  await tab.waitForURL(/\/look\/lower_seat$/);
});

journey("by touch: the pad takes the keyboard's place", { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true }, async (tab, place) => {
  await tab.goto(await bike(tab, place, "Hire bike 09"));
  await tab.locator(".step").locator("visible=true").tap();
  await tab.locator('#value[inputmode="none"]').waitFor();
  for (const key of ["1", "1", "5"]) await tab.locator(`[data-key="${key}"]`).tap();
  await tab.getByRole("button", { name: "Write it down" }).tap();
  await said(tab, /115 mm is written down/);
  await tab.getByRole("button", { name: "Undo" }).first().tap();
  await said(tab, /Undone/);
});

journey("by keyboard alone: from the list to a reading", {}, async (tab, place) => {
  await bike(tab, place, "Hire bike 03");
  const until = async (matches) => {
    for (let presses = 0; presses < 60; presses += 1) {
      await tab.keyboard.press("Tab");
      const text = await tab.evaluate(() => document.activeElement.textContent + (document.activeElement.value ?? ""));
      if (matches.test(text)) return;
    }
    assert.fail(`never reached ${matches}`);
  };
  await until(/Hire bike 03/);
  await tab.keyboard.press("Enter");
  await tab.waitForURL(/\/bikes\//);
  await until(/Measure the upper bearing/);
  await tab.keyboard.press("Enter");
  await tab.waitForURL(/\/measure\//);
  await tab.keyboard.type("41.8");
  await tab.keyboard.press("Enter");
  await tab.waitForURL(/wrote=/);
  await said(tab, /41\.8 mm is written down/);
  await until(/^Undo$/);
  await tab.keyboard.press("Enter");
  await tab.waitForURL((url) => !url.search.includes("wrote"));
  await said(tab, /Undone/);
});

journey("without a script: a reading, what is wanted, sliders by a button", { javaScriptEnabled: false }, async (tab, place) => {
  const address = await bike(tab, place, "Hire bike 03");
  await tab.goto(`${address}/measure/upper_bearing_outer_diameter`);
  assert.equal(await tab.locator("[data-pad]").isVisible(), false);
  await tab.locator("#value").fill("41.8");
  await tab.getByRole("button", { name: "Write it down" }).click();
  await said(tab, /is written down/);
  await tab.getByRole("button", { name: "Undo" }).first().click();
  await tab.goto(`${address}/steering`);
  await tab.locator("#tilt").press("ArrowRight");
  await tab.getByRole("button", { name: "Show" }).click();
  await tab.waitForURL(/tilt=0\.1/);
});

journey("steering redraws while a slider moves, and stays in the address", {}, async (tab, place) => {
  await tab.goto(`${await bike(tab, place, "Hire bike 05")}/steering`);
  const after = () => tab.locator(".figures tbody tr").first().locator(".after").textContent();
  const before = await after();
  for (let press = 0; press < 10; press += 1) await tab.locator('[data-for="tilt"][data-nudge="1"]').click();
  await tab.waitForURL(/tilt=1(&|$)/);
  assert.notEqual(await after(), before);
  await sees(tab, '[data-text="tilt"]', /1\.0° slacker/);
  await tab.reload();
  await sees(tab, '[data-text="tilt"]', /1\.0° slacker/);
});

journey("the shop is asked, and the request taken back", {}, async (tab, place) => {
  await tab.goto(await bike(tab, place, "Hire bike 01"));
  await tab.locator(".step").locator("visible=true").click();
  await sees(tab, "h1", /^Order TT-4180-15$/);
  await tab.locator("#name").fill("Wren Alderfoot");
  await tab.locator("#email").fill("wren@larch-hollow.example");
  await tab.getByRole("button", { name: "Put it in the outbox" }).click();
  await said(tab, /TT-4180-15 is in the outbox/);
  await tab.getByRole("button", { name: "Withdraw" }).click();
  await said(tab, /It is withdrawn/);
});

journey("the shop is named, agreed to, and contacted; without a network the request waits", {}, async (tab, place) => {
  await tab.goto(await bike(tab, place, "Hire bike 01"));
  await tab.locator(".step").locator("visible=true").click();
  await tab.locator("#name").fill("Wren Alderfoot");
  await tab.locator("#phone").fill("030 1234567");
  await tab.getByRole("button", { name: "Put it in the outbox" }).click();
  await tab.getByRole("link", { name: "Name the shop" }).click();
  await tab.locator("#address").fill("http://orders.tarn-and-tiller.example");
  await tab.locator("#token").fill("larch-hollow-0123");
  await tab.getByRole("button", { name: "Name this shop" }).click();
  await sees(tab, "[role=alert]", /https:\/\//);
  assert.equal(await tab.locator("#address").inputValue(), "http://orders.tarn-and-tiller.example");
  // Nobody listens at this port of the machine.
  await tab.locator("#address").fill("http://127.0.0.1:9");
  await tab.locator("#token").fill("larch-hollow-0123");
  await tab.getByRole("button", { name: "Name this shop" }).click();
  await said(tab, /Nothing is sent before you agree/);
  await tab.getByRole("button", { name: "I agree" }).click();
  await said(tab, /Agreed/);
  await tab.goto(`${place.base}/outbox`);
  await sees(tab, ".log li", /not reached|could not be reached|tried again/i);
  await tab.getByRole("button", { name: "Contact the shop now" }).click();
  await said(tab, /is being contacted/);
});

journey("what the command line writes shows on an open page", {}, async (tab, place) => {
  await tab.goto(await bike(tab, place, "Hire bike 03"));
  await tab.locator("h1", { hasText: "Hire bike 03" }).first().waitFor();
  await command(place, "book", "measure", "Hire bike 03", "head_tube_length", "123.4", "mm", "--with", "caliper");
  // With the reading of 123 mm that was there before.
  await sees(tab, ".dimensions", /123\.2 ± 3\.0 mm/);
});

journey("a catalogue comes in as a file", {}, async (tab, place) => {
  await tab.goto(`${place.base}/book`);
  await tab.locator("#file").setInputFiles({ name: "kits.json", mimeType: "application/json", buffer: Buffer.from("{}") });
  await tab.waitForFunction(() => document.querySelector("#text").value === "{}");
  await tab.getByRole("button", { name: "Import it" }).click();
  await sees(tab, "[role=alert]", /schema/);
});

journey("a number that is being typed survives leaving", {}, async (tab, place) => {
  const address = `${await bike(tab, place, "Hire bike 03")}/measure/head_tube_length`;
  await tab.goto(address);
  await tab.locator("#value").fill("10");
  await tab.goto(`${place.base}/`);
  await tab.goto(address);
  assert.equal(await tab.locator("#value").inputValue(), "10");
});

journey("a refused number stands with its reason; an unusual one is asked about", {}, async (tab, place) => {
  await tab.goto(`${await bike(tab, place, "Hire bike 03")}/measure/fork_offset`);
  await tab.locator("#value").fill("4.4.4");
  await tab.getByRole("button", { name: "Write it down" }).click();
  await sees(tab, "[role=alert]", /more than one decimal/);
  assert.equal(await tab.locator("#value").inputValue(), "4.4.4");
  await tab.locator("#value").fill("4.4");
  await tab.getByRole("button", { name: "Write it down" }).click();
  await sees(tab, "[role=alert]", /did you mean 44 mm\?/);
});

test("an empty book: the demo crew comes and goes, a bike is added", async () => {
  const empty = await serve({ demo: false });
  const { browser, tab } = await open(empty);
  try {
    await sees(tab, ".empty", /no bike yet/);
    await tab.getByRole("button", { name: /demo crew/ }).click();
    await said(tab, /12 bikes of the demo crew are here/);
    assert.equal(await tab.locator(".rows .row").count(), 12);
    await tab.getByRole("link", { name: "Demo", exact: true }).click();
    await tab.getByRole("button", { name: /bikes out/ }).click();
    await said(tab, /12 bikes of the demo crew are out/);
    assert.equal(await tab.locator(".rows .row").count(), 0);
    await tab.getByRole("link", { name: "Add a bike" }).first().click();
    await tab.locator("#name").fill("Ash & Sons");
    await tab.getByRole("button", { name: "Add a bike" }).click();
    await sees(tab, "h1", /^Ash & Sons$/);
  } finally {
    await browser.close();
    empty.stop();
  }
});

journey("in German: the browser's language, a reading with a comma, a refusal, undo, the shop is asked", { locale: "de-CH" }, async (tab, place) => {
  await tab.goto(await bike(tab, place, "Hire bike 03"));
  assert.equal(await tab.locator("html").getAttribute("lang"), "de");
  await tab.locator(".answer h2:visible", { hasText: "Noch nicht entschieden" }).waitFor();
  await tab.locator(".step").locator("visible=true").click();
  await sees(tab, "h1", "Außendurchmesser des oberen Lagers");
  await tab.locator("#value").fill("vier");
  await tab.getByRole("button", { name: "Eintragen" }).click();
  await sees(tab, "[role=alert]", "„vier“ ist keine Zahl");
  await tab.locator("#value").fill("41,8");
  await tab.getByRole("button", { name: "Eintragen" }).click();
  await said(tab, /41,8 mm ist eingetragen\..*fallen jetzt weg/);
  await tab.getByRole("button", { name: "Rückgängig" }).first().click();
  await said(tab, "Rückgängig gemacht: Messwert eintragen (Hire bike 03): Außendurchmesser des oberen Lagers 41,8 mm");
  await tab.goto(`${await bike(tab, place, "Hire bike 05")}/kits/TT-4180-15/ask`);
  await tab.locator("#name").fill("Robin Fell");
  await tab.locator("#email").fill("robin@example.org");
  await tab.getByRole("button", { name: "In den Postausgang legen" }).click();
  await sees(tab, "main", "wartet aufs Senden");
});

for (const locale of ["en-GB", "de-DE"]) journey(`every screen (${locale}): no finding of axe, nothing wider than the screen, also at twice the type`, { locale }, async (tab, place) => {
  const photos = await withPhotos(tab, place);
  await tab.goto(`${place.base}/`);
  for (const [name, path] of Object.entries({ ...screens(await bikes(tab)), ...photos })) {
    for (const [width, scheme, size] of [[360, "light", 1], [768, "dark", 1], [1280, "light", 1], [1280, "dark", 1], [360, "light", 2]]) {
      await tab.setViewportSize({ width, height: 800 });
      await tab.emulateMedia({ colorScheme: scheme });
      await tab.goto(new URL(path, place.base).href);
      if (size !== 1) await tab.evaluate((times) => (document.documentElement.style.fontSize = `${100 * times}%`), size);
      const where = `${name} at ${width} px, ${scheme}, type x ${size}`;
      const over = await tab.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      const wide = await tab.evaluate(() =>
        [...document.querySelectorAll("body *")].filter((it) => it.getBoundingClientRect().right > innerWidth + 0.5 || (it.scrollWidth > it.clientWidth && it.clientWidth > 0 && getComputedStyle(it).overflowX === "visible")).map((it) => it.outerHTML.slice(0, 90)),
      );
      assert.ok(over <= 0, `${where}: ${over} px too wide: ${wide.slice(-4).join(" | ")}`);
      await tab.evaluate(axe);
      const { violations } = await tab.evaluate(() => globalThis.axe.run(document));
      const found = violations.map((it) => `${it.id}: ${it.nodes.map((node) => node.html.slice(0, 120)).join(" | ")}`);
      assert.deepEqual(found, [], where);
    }
  }
});
