// The command on a fresh book, and a browser that reaches nothing else.

import assert from "node:assert/strict";
import { execFile, spawn } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { test } from "node:test";
import { promisify } from "node:util";
import { chromium } from "playwright-core";

const options = { executablePath: process.env.STEERWRIGHT_CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] };

/** How long a step may take before it counts as stuck, ms: a busy machine is slow, not wrong. */
export const patience = 180_000;

/** Serves a fresh book, with the demo crew's bikes or empty. */
export async function serve({ demo = true } = {}) {
  const folder = mkdtempSync(join(tmpdir(), "steerwright-page-"));
  const words = ["open", "--book", join(folder, "field.steerbook"), "--no-browser", ...(demo ? ["--demo"] : [])];
  const command = spawn(process.env.STEERWRIGHT_COMMAND, words, { stdio: ["ignore", "pipe", "ignore"] });
  const address = await new Promise((resolve, reject) => {
    let text = "";
    command.stdout.on("data", (data) => {
      text += data;
      const found = text.match(/http:\/\/\S+/);
      if (found) resolve(found[0]);
    });
    command.on("exit", (code) => reject(new Error(`the command ended with ${code}: ${text}`)));
  });
  const stop = () => {
    command.kill();
    rmSync(folder, { recursive: true, force: true });
  };
  return { address, base: new URL(address).origin, folder, stop };
}

/** Runs the command beside the page, on the same book. */
export const command = (place, ...words) =>
  promisify(execFile)(process.env.STEERWRIGHT_COMMAND, [...words, "--book", join(place.folder, "field.steerbook")]);

/** A browser whose page fails on any error of a script, and whose requests elsewhere are counted and refused. */
export async function open(place, context = {}) {
  const browser = await chromium.launch(options);
  const tab = await (await browser.newContext({ viewport: { width: 1280, height: 800 }, ...context })).newPage();
  tab.setDefaultTimeout(patience);
  const outside = [];
  const errors = [];
  await tab.route("**/*", (route) => {
    const url = route.request().url();
    if (url.startsWith(place.base) || url.startsWith("data:")) return route.continue();
    outside.push(url);
    return route.abort();
  });
  tab.on("pageerror", (error) => errors.push(String(error)));
  tab.on("console", (message) => {
    // A form that is refused answers 422, which Chromium notes as an error of loading.
    if (message.type() === "error" && !message.text().includes("422")) errors.push(message.text());
  });
  await tab.goto(place.address);
  return { browser, tab, outside, errors };
}

/** Runs a journey with a book and a browser of its own; nothing outside is asked for and no script fails. */
export const journey = (name, context, walk) =>
  test(name, async () => {
    const place = await serve();
    const { browser, tab, outside, errors } = await open(place, context);
    try {
      await walk(tab, place);
      assert.deepEqual(outside, []);
      assert.deepEqual(errors, []);
    } finally {
      await browser.close();
      place.stop();
    }
  });

/** Waits until something shows this text: a click does not wait for the page that it leads to. */
export const sees = (tab, where, text) => tab.locator(where, { hasText: text }).first().waitFor();
export const said = (tab, text) => sees(tab, ".said", text);

/** Pictures of a bike in each state of its marks, made by the forms alone; their screens by name. */
export async function withPhotos(tab, place) {
  const data = `${process.env.STEERWRIGHT_DATA}/photo/forks`;
  const photos = `${await bike(tab, place, "Hire bike 05")}/photos`;
  const scene = (number) => JSON.parse(readFileSync(`${data}/fork-${number}.json`)).taps;
  const post = async (address, sent) => {
    const response = await tab.context().request.post(address, { headers: { Origin: place.base }, maxRedirects: 0, ...sent });
    assert.equal(response.status(), 303, `${address} ${JSON.stringify(sent.form)}`);
  };
  const send = (address, form) => post(address, { form });
  const pages = [];
  for (const number of ["0300", "0304", "0302", "0303"]) {
    const photo = { name: `fork-${number}.jpg`, mimeType: "image/jpeg", buffer: readFileSync(`${data}/fork-${number}.jpg`) };
    await post(photos, { multipart: { photo } });
    await tab.goto(photos);
    pages.push(new URL(await tab.locator(".photos a").last().getAttribute("href"), place.base).href);
  }
  const [read, other, wheels, refused] = pages;
  for (const [page, number] of [[read, "0300"], [other, "0304"]]) {
    await send(`${page}/marks`, { act: "take_wheels" });
    for (const [x, y] of scene(number).stanchions[0].points) await send(`${page}/marks`, { act: "tap", part: "fork_leg", x, y });
  }
  await send(`${read}/reading`, {});
  await send(`${other}/reading`, {});
  await send(`${refused}/marks`, { act: "own_wheels" });
  for (const [x, y] of [[20, 20], [90, 30], [50, 90]]) await send(`${refused}/marks`, { act: "tap", part: "left_tyre", x, y });
  const path = (address) => new URL(address).pathname;
  return {
    photos: path(photos),
    "photos-none": path(`${await bike(tab, place, "Hire bike 03")}/photos`),
    wheels: path(wheels),
    read: path(read),
    refused: path(refused),
    compare: `${path(photos)}/compare`,
    level: path(`${await bike(tab, place, "Hire bike 05")}/level`),
  };
}

/** The address of a bike by its name. */
export async function bike(tab, place, name) {
  await tab.goto(`${place.base}/`);
  const link = tab.locator(".row", { has: tab.locator(`b:text-is("${name}")`) });
  return new URL(await link.getAttribute("href"), place.base).href;
}

/** The addresses of the bikes in the list that is open, by name. */
export async function bikes(tab) {
  const rows = await tab.$$eval(".row", (rows) => rows.map((row) => [row.querySelector("b").textContent, row.getAttribute("href")]));
  return (name) => rows.find(([known]) => known === name)[1];
}

/** Every screen, by its name, with the demo crew's bikes. */
export const screens = (address) => ({
  list: "/",
  new: "/bikes/new",
  bike: address("Hire bike 03"),
  fits: address("Hire bike 01"),
  disagree: address("Hire bike 12"),
  edit: `${address("Hire bike 03")}/edit`,
  kits: `${address("Hire bike 05")}/kits`,
  kit: `${address("Hire bike 05")}/kits/TT-4180-15`,
  ask: `${address("Hire bike 05")}/kits/TT-4180-15/ask`,
  outbox: "/outbox",
  book: "/book",
  steering: `${address("Hire bike 05")}/steering?tilt=1`,
  record: `${address("Hire bike 12")}/record`,
  measure: `${address("Hire bike 03")}/measure/upper_bearing_outer_diameter`,
  look: `${address("Hire bike 03")}/look/upper_seat`,
});
