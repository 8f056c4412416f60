// Journeys through a bike's photos: adding, marking by mouse, touch and keyboard, the reading, before and after; and the
// sessions of the level.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { bike, journey, said, sees } from "./place.mjs";

const data = process.env.STEERWRIGHT_DATA;
const fork = (number) => {
  const file = `${data}/photo/forks/fork-${number}`;
  const picture = { name: `fork-${number}.jpg`, mimeType: "image/jpeg", buffer: readFileSync(`${file}.jpg`) };
  return { picture, ...JSON.parse(readFileSync(`${file}.json`)) };
};
const phone = { viewport: { width: 360, height: 780 }, hasTouch: true, isMobile: true };

/** Adds a picture and opens its page. */
async function opened(tab, place, scene, name = "Hire bike 03") {
  const address = `${await bike(tab, place, name)}/photos`;
  await tab.goto(address);
  await tab.locator("input[multiple]").setInputFiles(scene.picture);
  await sees(tab, ".uploads", /is added, upright, its place removed/);
  await tab.locator(".photos a").last().click();
  await tab.locator("canvas[data-ready]").waitFor();
  await tab.waitForFunction(() => document.querySelector("#picture").width > 300);
  return address;
}

/** Where a place of the picture is on the screen, with the whole picture in view. */
const spot = (tab, [x, y]) =>
  tab.locator("#picture").evaluate((canvas, [x, y]) => {
    const { width, height } = JSON.parse(document.querySelector("#task").dataset.scene);
    const box = canvas.getBoundingClientRect();
    const scale = Math.min(box.width / width, box.height / height);
    return [box.left + (box.width - width * scale) / 2 + x * scale, box.top + (box.height - height * scale) / 2 + y * scale];
  }, [x, y]);

const marks = (tab) => tab.locator("#task").evaluate((task) => JSON.parse(task.dataset.scene).marks);
const isMarked = (tab, count) => tab.waitForFunction((count) => JSON.parse(document.querySelector("#task").dataset.scene).marks.length === count, count);

journey("photos by mouse: wheels confirmed, the leg tapped, the reading written down and undone", {}, async (tab, place) => {
  const scene = fork("0300");
  await opened(tab, place, scene);
  await sees(tab, "#task", /Are these the two wheels\?/);
  assert.equal(await tab.locator(".told").count(), 0);
  await tab.getByRole("button", { name: "Yes, these are the wheels" }).click();
  await sees(tab, "#task", /Tap the fork leg twice/);
  await tab.locator("#picture").scrollIntoViewIfNeeded();
  for (const [index, at] of scene.taps.stanchions[0].points.entries()) {
    await tab.mouse.click(...(await spot(tab, at)));
    await isMarked(tab, 7 + index);
  }
  await sees(tab, ".told .large", /6\d\.\d°/);
  const before = await tab.locator(".told .large").textContent();
  // Nothing is lost on a reload.
  await tab.reload();
  await sees(tab, ".told .large", before);
  await tab.getByRole("button", { name: /Write it down/ }).click();
  await said(tab, /of this photo are written down/);
  await sees(tab, ".told", /These readings are written down/);
  await tab.getByRole("button", { name: "Undo", exact: true }).click();
  await said(tab, /Undone: measure on a photo \(Hire bike 03\)/);
});

journey("photos by touch: taps with a loupe, two fingers zoom, a mark is taken back", phone, async (tab, place) => {
  const scene = fork("0302");
  await opened(tab, place, scene);
  await tab.getByRole("button", { name: "No, I tap them myself" }).tap();
  await sees(tab, "#task", /Tap the tyre of the left wheel/);
  const [left, right] = [scene.taps.front.tyre, scene.taps.rear.tyre].sort((one, other) => one[0][0] - other[0][0]);
  const client = await tab.context().newCDPSession(tab);
  const touch = (type, points) => client.send("Input.dispatchTouchEvent", { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  let count = 0;
  for (const at of [...left, ...right, ...scene.taps.stanchions[0].points]) {
    await tab.locator("#picture").scrollIntoViewIfNeeded();
    const [x, y] = await spot(tab, at);
    await touch("touchStart", [[x + 14, y - 9]]);
    await touch("touchMove", [[x, y]]);
    await touch("touchEnd", []);
    await isMarked(tab, (count += 1));
  }
  await sees(tab, ".told .large", /6\d\.\d°/);
  // Two fingers move apart: the picture grows, and no mark is set.
  const [x, y] = await spot(tab, [500, 380]);
  await touch("touchStart", [[x - 20, y], [x + 20, y]]);
  for (let step = 1; step <= 5; step += 1) await touch("touchMove", [[x - 20 - 12 * step, y], [x + 20 + 12 * step, y]]);
  await touch("touchEnd", []);
  assert.equal((await marks(tab)).length, 8);
  await tab.getByRole("button", { name: "Undo the last mark" }).tap();
  await isMarked(tab, 7);
  assert.equal(await tab.locator(".told").count(), 0);
});

journey("photos by keyboard: the cross sets marks, buttons nudge them", {}, async (tab, place) => {
  const scene = fork("0300");
  await opened(tab, place, scene);
  await tab.getByRole("button", { name: "Yes, these are the wheels" }).focus();
  await tab.keyboard.press("Enter");
  await sees(tab, "#task", /Tap the fork leg twice/);
  assert.equal(await tab.evaluate(() => document.activeElement.id), "task-title");
  await tab.locator("#picture").focus();
  await tab.keyboard.press("Enter");
  await isMarked(tab, 7);
  const [before] = (await marks(tab)).slice(-1);
  await tab.getByRole("button", { name: "Mark to the right" }).focus();
  for (let press = 0; press < 3; press += 1) await tab.keyboard.press("Enter");
  await tab.waitForFunction((x) => JSON.parse(document.querySelector("#task").dataset.scene).marks.at(-1).at[0] === x, Math.round(10 * (before.at[0] + 3)) / 10);
  await tab.locator("#picture").focus();
  await tab.keyboard.press("Backspace");
  await isMarked(tab, 6);
});

journey("photos: several at once, a refused one says why, one is stopped; two are compared", {}, async (tab, place) => {
  const [one, two] = [fork("0300"), fork("0302")];
  const address = `${await bike(tab, place, "Hire bike 03")}/photos`;
  await tab.goto(address);
  await tab.locator("input[multiple]").setInputFiles([one.picture, { name: "notes.txt", mimeType: "text/plain", buffer: Buffer.from("65") }, two.picture]);
  await sees(tab, ".uploads .error", /notes\.txt: This is no photo that can be read here/);
  await sees(tab, ".uploads", /fork-0302\.jpg is added/);
  await tab.waitForFunction(() => document.querySelectorAll(".photos img").length === 2);
  // The second of these waits until the first is there: it is stopped before it is sent.
  await tab.route("**/photos", async (route) => {
    if (route.request().method() === "POST") await new Promise((go) => (globalThis.go = go));
    return route.continue();
  });
  await tab.locator("input[multiple]").setInputFiles([{ name: "later.txt", mimeType: "text/plain", buffer: Buffer.from("1") }, { name: "last.txt", mimeType: "text/plain", buffer: Buffer.from("2") }]);
  await tab.getByRole("button", { name: "Stop" }).last().click();
  await tab.getByRole("button", { name: "Stop" }).first().click();
  await sees(tab, ".uploads", /last\.txt was stopped/);
  await sees(tab, ".uploads", /later\.txt was stopped/);
  globalThis.go();
  await tab.unroute("**/photos");
  for (const [index, scene] of [one, two].entries()) {
    await tab.goto(address);
    await tab.locator(".photos a").nth(index).click();
    await tab.locator("canvas[data-ready]").waitFor();
    await tab.getByRole("button", { name: "Yes, these are the wheels" }).click();
    await sees(tab, "#task", /Tap the fork leg twice/);
    await tab.locator("#picture").scrollIntoViewIfNeeded();
    for (const [tap, at] of scene.taps.stanchions[0].points.entries()) {
      await tab.mouse.click(...(await spot(tab, at)));
      await isMarked(tab, 7 + tap);
    }
    await tab.getByRole("button", { name: /Write it down/ }).click();
    await said(tab, /written down/);
  }
  await tab.goto(address);
  await tab.getByRole("link", { name: "Before and after" }).click();
  await sees(tab, ".figures tbody th", /Head angle/);
});

journey("the level: a session's table is shown and written down", {}, async (tab, place) => {
  await tab.goto(`${await bike(tab, place, "Hire bike 03")}/level`);
  await tab.locator("#first").setInputFiles(`${data}/level/before.csv`);
  await tab.locator("#second").setInputFiles(`${data}/level/after.csv`);
  await tab.getByRole("button", { name: "Show the angle" }).click();
  await sees(tab, ".levels .change", /Change/);
  await tab.getByRole("button", { name: /Write .* down/ }).last().click();
  await said(tab, /is written down/);
});
