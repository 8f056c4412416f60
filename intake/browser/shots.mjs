// A picture of every screen: node shots.mjs FOLDER

import { open, screens, serve } from "./place.mjs";

const folder = process.argv[2];
const place = await serve();
const { browser, tab } = await open(place);
const all = { ...(await screens(tab)) };
for (const [width, height] of [[390, 844], [768, 1024], [1280, 800]]) {
  for (const scheme of ["light", "dark"]) {
    await tab.setViewportSize({ width, height });
    await tab.emulateMedia({ colorScheme: scheme });
    for (const [name, path] of Object.entries(all)) {
      await tab.goto(new URL(path, place.base).href);
      await tab.screenshot({ path: `${folder}/${name}-${width}-${scheme}.png` });
      await tab.screenshot({ path: `${folder}/${name}-${width}-${scheme}-whole.png`, fullPage: true });
    }
  }
}
await browser.close();
place.stop();
