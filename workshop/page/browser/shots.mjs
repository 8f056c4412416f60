// A picture of every screen: node shots.mjs FOLDER [LOCALE]

import { bikes, open, screens, serve, withPhotos } from "./place.mjs";

const folder = process.argv[2];
const place = await serve();
const { browser, tab } = await open(place, { locale: process.argv[3] ?? "en-GB" });
const photos = await withPhotos(tab, place);
await tab.goto(`${place.base}/`);
const all = { ...screens(await bikes(tab)), ...photos };
for (const [width, height] of [[360, 780], [1280, 800]]) {
  for (const scheme of ["light", "dark"]) {
    await tab.setViewportSize({ width, height });
    await tab.emulateMedia({ colorScheme: scheme });
    for (const [name, path] of Object.entries(all)) {
      await tab.goto(new URL(path, place.base).href);
      await tab.screenshot({ path: `${folder}/${name}-${width}-${scheme}.png`, fullPage: width < 500 });
    }
  }
}
await browser.close();
place.stop();
