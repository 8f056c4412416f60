// The shop's page in a real browser.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { after, before, test } from "node:test";
import { number, open, screens, serve } from "./place.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

let place;
before(async () => { place = await serve(); });
after(() => place.stop());

/** A test in a browser of its own, which reaches nothing outside. */
function journey(name, walk, context = {}) {
  test(name, async () => {
    const { browser, tab, outside } = await open(place, context);
    try {
      await walk(tab);
      assert.deepEqual(outside, []);
    } finally {
      await browser.close();
    }
  });
}

journey("every screen: no finding of axe, nothing wider than the screen, also at twice the type", async (tab) => {
  const all = await screens(tab);
  for (const [width, height] of [[390, 844], [768, 1024], [1280, 800]]) {
    for (const scheme of ["light", "dark"]) {
      await tab.setViewportSize({ width, height });
      await tab.emulateMedia({ colorScheme: scheme });
      for (const [name, path] of Object.entries(all)) {
        await tab.goto(new URL(path, place.base).href);
        await tab.evaluate(axe);
        const { violations } = await tab.evaluate(() => globalThis.axe.run(document));
        assert.deepEqual(violations.map((it) => [it.id, it.nodes.map((node) => node.html)]), [], `${name} ${width} ${scheme}`);
        for (const size of ["", "200%"]) {
          await tab.evaluate((size) => { document.documentElement.style.fontSize = size; }, size);
          const wide = await tab.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
          const widest = wide <= 0 ? "" : await tab.evaluate(() => [...document.querySelectorAll("body *")].filter((it) => it.getBoundingClientRect().right > document.documentElement.clientWidth + 1).map((it) => `${it.tagName}.${it.className}`).join(" "));
          assert.ok(wide <= 0, `${name} is ${wide} px too wide at ${width}, type ${size}: ${widest}`);
        }
      }
    }
  }
});

journey("on a phone the address and the answer's button are on the first screen", async (tab) => {
  await tab.goto(`${place.base}/requests/${await number(tab, "Hire bike 01")}`);
  for (const seen of [tab.locator(".contact .lines"), tab.locator(".choices"), tab.getByRole("button", { name: "Send the answer" })]) {
    const box = await seen.boundingBox();
    assert.ok(box.y >= 0 && box.y + box.height <= 844, JSON.stringify(box));
  }
}, { viewport: { width: 390, height: 844 } });

journey("an answer by keyboard, then corrected, noted and told how far it is", async (tab) => {
  await tab.getByRole("searchbox").fill("hire bike 05");
  await tab.keyboard.press("Enter");
  await tab.locator(".requests a", { hasText: "Hire bike 05" }).click();
  await tab.getByRole("radio", { name: "Accept" }).focus();
  await tab.keyboard.press("Space");
  await tab.getByLabel("Question, reason or greeting").fill("On Friday.");
  await tab.getByRole("button", { name: "Send the answer" }).click();
  await tab.locator(".history", { hasText: "On Friday." }).waitFor();
  await tab.getByLabel("Note for the shop alone").fill("Ask the maker first.");
  await tab.getByRole("button", { name: "Keep the note" }).click();
  await tab.locator(".history", { hasText: "Ask the maker first." }).waitFor();
  await tab.getByRole("button", { name: "Take it in hand" }).click();
  await tab.getByRole("button", { name: "Put it down" }).waitFor();
  await tab.getByRole("radio", { name: "Sent" }).check({ force: true });
  await tab.getByText("Price, when, delivery, parcel").click();
  await tab.getByLabel("Parcel number").fill("TT 0042");
  await tab.getByRole("button", { name: "Send the answer" }).click();
  await tab.locator(".history", { hasText: "Parcel number: TT 0042" }).waitFor();
  await tab.locator(".stand", { hasText: "Sent" }).waitFor();
});

journey("sheets are one page of A4 and of letter", async (tab) => {
  await tab.goto(`${place.base}/`);
  const links = await tab.$$eval(".requests a", (links) => links.map((link) => link.getAttribute("href")));
  assert.ok(links.length >= 12);
  for (const link of links) {
    for (const sheet of ["packing-slip", "workshop-sheet"]) {
      await tab.goto(`${place.base}${link}/${sheet}`);
      await tab.evaluate(() => Promise.all([...document.images].map((image) => image.decode())));
      for (const format of ["A4", "Letter"]) {
        const pdf = (await tab.pdf({ format, preferCSSPageSize: false })).toString("latin1");
        const pages = pdf.match(/\/Type\s*\/Page\b(?!s)/g).length;
        assert.equal(pages, 1, `${link}/${sheet} on ${format}`);
      }
    }
  }
});
