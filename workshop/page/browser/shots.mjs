// A picture of every screen: node shots.mjs FOLDER

import { open, serve } from "./place.mjs";

const folder = process.argv[2];
const place = await serve();
const { browser, tab } = await open(place);
const rows = await tab.$$eval(".row", (rows) => rows.map((row) => [row.querySelector("b").textContent, row.getAttribute("href")]));
const bike = (name) => rows.find(([known]) => known === name)[1];
const screens = {
  list: "/",
  bike: bike("Hire bike 03"),
  fits: bike("Hire bike 01"),
  disagree: bike("Hire bike 12"),
  kits: `${bike("Hire bike 05")}/kits`,
  kit: `${bike("Hire bike 05")}/kits/TT-4180-15`,
  ask: `${bike("Hire bike 05")}/kits/TT-4180-15/ask`,
  outbox: "/outbox",
  book: "/book",
  steering: `${bike("Hire bike 05")}/steering?tilt=1`,
  record: `${bike("Hire bike 12")}/record`,
  measure: `${bike("Hire bike 03")}/measure/upper_bearing_outer_diameter`,
  look: `${bike("Hire bike 03")}/look/upper_seat`,
  new: "/bikes/new",
};
for (const [width, height] of [[360, 780], [1280, 800]]) {
  for (const scheme of ["light", "dark"]) {
    await tab.setViewportSize({ width, height });
    await tab.emulateMedia({ colorScheme: scheme });
    for (const [name, path] of Object.entries(screens)) {
      await tab.goto(new URL(path, place.base).href);
      await tab.screenshot({ path: `${folder}/${name}-${width}-${scheme}.png`, fullPage: width < 500 });
    }
  }
}
await browser.close();
place.stop();
