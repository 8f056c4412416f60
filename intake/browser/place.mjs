// The demo shop, and a browser that is logged in to it and reaches nothing else.

import { spawn } from "node:child_process";
import { chromium } from "playwright-core";

const options = { executablePath: process.env.STEERWRIGHT_CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] };

/** Serves the demo. */
export async function serve() {
  const command = spawn(process.env.STEERWRIGHT_INTAKE, ["demo", "--listen", "127.0.0.1:0"], { stdio: ["ignore", "pipe", "ignore"] });
  const [base, password] = await new Promise((resolve, reject) => {
    let text = "";
    command.stdout.on("data", (data) => {
      text += data;
      const address = text.match(/http:\/\/\S+/);
      const word = text.match(/the password (\S+)\n/);
      if (address && word) resolve([address[0], word[1]]);
    });
    command.on("exit", (code) => reject(new Error(`the command ended with ${code}: ${text}`)));
  });
  return { base, password, stop: () => command.kill() };
}

/** A browser at the list. */
export async function open(place, context = {}) {
  const browser = await chromium.launch(options);
  const tab = await (await browser.newContext({ viewport: { width: 1280, height: 800 }, ...context })).newPage();
  const outside = [];
  await tab.route("**/*", (route) => {
    const url = route.request().url();
    if (url.startsWith(place.base) || url.startsWith("data:")) return route.continue();
    outside.push(url);
    return route.abort();
  });
  await tab.goto(`${place.base}/login`);
  await tab.getByLabel("Name").fill("demo");
  await tab.getByLabel("Password").fill(place.password);
  await tab.getByRole("button", { name: "Log in" }).click();
  await tab.locator(".requests").waitFor();
  return { browser, tab, outside };
}

/** The number of a demo bike's request in the list. */
export async function number(tab, bike) {
  const link = tab.locator(".requests a", { hasText: bike });
  return (await link.getAttribute("href")).split("/").pop();
}

/** Every screen, by its name. */
export const screens = async (tab) => {
  const first = await number(tab, "Hire bike 01");
  return {
    list: "/",
    nothing: "/?find=nobody",
    request: `/requests/${first}`,
    measure: `/requests/${await number(tab, "Hire bike 03")}`,
    photo: `/requests/${first}/photos/2`,
    slip: `/requests/${first}/packing-slip`,
    workshop: `/requests/${first}/workshop-sheet`,
    texts: "/texts",
    account: "/account",
    state: "/state",
    missing: "/requests/999",
  };
};
