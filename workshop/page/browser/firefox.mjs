// The main journey in a second engine: Debian's Firefox, driven by WebDriver BiDi.

import assert from "node:assert/strict";
import { test } from "node:test";
import puppeteer from "puppeteer-core";
import { patience, serve } from "./place.mjs";

test("in Firefox: a bike, a reading with the pad, its undo, the kit, the request, its withdrawal", async () => {
  const place = await serve();
  const browser = await puppeteer.launch({
    browser: "firefox",
    executablePath: process.env.STEERWRIGHT_FIREFOX ?? "/usr/bin/firefox-esr",
    headless: true,
  });
  try {
    const tab = await browser.newPage();
    tab.setDefaultTimeout(patience);
    tab.setDefaultNavigationTimeout(patience);
    await tab.setViewport({ width: 1280, height: 800 });
    const errors = [];
    tab.on("pageerror", (error) => errors.push(String(error)));
    const sees = (where, text) =>
      tab.waitForFunction((where, text) => [...document.querySelectorAll(where)].some((it) => it.textContent.includes(text)), {}, where, text);
    /** Clicks the first element that is seen and holds this text. */
    const press = async (where, text) => {
      await sees(where, text);
      for (const handle of await tab.$$(where)) {
        if (await handle.evaluate((it, text) => it.checkVisibility() && it.textContent.includes(text), text)) return handle.click();
      }
      assert.fail(`nothing to press: ${where} ${text}`);
    };
    await tab.goto(place.address);
    await press("a.row", "Hire bike 03");
    await sees(".answer h2", "Not decided yet");
    await press("a.step", "");
    await sees("h1", "Upper bearing outside diameter");
    for (const key of ["4", "1", ".", "8"]) await tab.locator(`[data-key="${key}"]`).click();
    await press("button", "Write it down");
    await sees(".said", "41.8 mm is written down");
    await press("button", "Undo");
    await sees(".said", "Undone");
    await tab.goto(`${place.base}/`);
    await press("a.row", "Hire bike 01");
    await press("a.step", "");
    await sees("h1", "Order TT-4180-15");
    await tab.locator("#name").fill("Wren Alderfoot");
    await tab.locator("#email").fill("wren@larch-hollow.example");
    await press("button", "Put it in the outbox");
    await sees(".said", "TT-4180-15 is in the outbox");
    await press("button", "Withdraw");
    await sees(".said", "It is withdrawn");
    assert.deepEqual(errors, []);
  } finally {
    await browser.close();
    place.stop();
  }
});
