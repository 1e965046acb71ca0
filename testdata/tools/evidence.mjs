// Opens the pages of an unpacked evidence pack from disk in a real browser: light
// and dark, on a phone and a desk, turns the slides by keys, guesses a pair, and
// lets axe look for barriers. Prints what is wrong, one line each, then "looked".
//
//   node evidence.mjs MODULES BROWSER FOLDER [PICTURES]
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { pathToFileURL } from "node:url";

const [modules, browser, folder, pictures] = process.argv.slice(2);
const require = createRequire(join(modules, "..", "x.js"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const standards = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
const wrong = (...words) => console.log(words.join(" "));

const b = await chromium.launch({ executablePath: browser, args: ["--no-sandbox"] });
for (const [view, width, height, colorScheme] of [["desk", 1280, 900, "light"], ["phone", 360, 740, "light"], ["dark", 1280, 900, "dark"]]) {
  for (const name of ["handout", "slides", "explorer"]) {
    const context = await b.newContext({ viewport: { width, height }, colorScheme });
    const page = await context.newPage();
    const where = view + " " + name + ":";
    page.on("console", (m) => wrong(where, "the console says", m.text()));
    page.on("pageerror", (e) => wrong(where, "error", e.message));
    page.on("request", (r) => { if (!/^(file|data):/.test(r.url())) wrong(where, "asks for", r.url()); });
    await page.goto(pathToFileURL(join(folder, name + ".html")).href);
    if (name === "slides") {
      const at = () => page.textContent("#place");
      const n = await page.locator(".slide").count();
      if (await at() !== "Slide 1 of " + n) wrong(where, "opens at", await at());
      await page.keyboard.press("ArrowRight");
      await page.keyboard.press("PageDown");
      if (await at() !== "Slide 3 of " + n) wrong(where, "two keys lead to", await at());
      await page.keyboard.press("ArrowLeft");
      if (await at() !== "Slide 2 of " + n || await page.locator(".slide:visible").count() !== 1) wrong(where, "back leads to", await at());
      await page.keyboard.press("End");
      if (await at() !== "Slide " + n + " of " + n || !await page.isDisabled("#next")) wrong(where, "End leads to", await at());
      await page.keyboard.press("Home");
      for (let i = 0; i < 3; i++) await page.click("#next");
      const focus = await page.evaluate(() => document.activeElement.id);
      if (focus !== "next") wrong(where, "a click takes the focus to", focus);
    }
    if (name === "explorer") {
      await page.focus("#a");
      await page.keyboard.press("Enter");
      if (!/The (heart|body) says/.test(await page.textContent("#said"))) wrong(where, "a guess has no answer");
      const all = await page.textContent("#words");
      await page.focus("#least");
      for (let i = 0; i < 6; i++) await page.keyboard.press("ArrowRight");
      if (await page.textContent("#words") === all) wrong(where, "the slider changes nothing");
      if (!/^Of [0-9]+ pairs shown, of [0-9]+ swimmers/.test(all)) wrong(where, "says", all);
    }
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    if (wide > 0) wrong(where, "is", String(wide), "px too wide");
    await page.evaluate(axe).catch(() => page.addScriptTag({ content: axe }));
    const found = await page.evaluate((values) => window.axe.run(document, { runOnly: { type: "tag", values } }), standards);
    if (found.passes.length < 10) wrong(where, "axe looked at", String(found.passes.length), "rules only");
    for (const v of found.violations) wrong(where, "axe:", v.id, v.help, v.nodes.map((n) => n.target.join(" ")).slice(0, 3).join(" | "));
    if (pictures) await page.screenshot({ path: join(pictures, view + "-" + name + ".png"), fullPage: name !== "slides" });
    await context.close();
  }
}
// The policy is in force: a picture from elsewhere is refused.
const context = await b.newContext();
const page = await context.newPage();
let refused = false;
page.on("console", (m) => { refused ||= /Content Security Policy/.test(m.text()); });
await page.goto(pathToFileURL(join(folder, "handout.html")).href);
await page.evaluate(() => { const i = new Image(); i.src = "https://elsewhere.invalid/x.png"; document.body.append(i); });
await page.waitForTimeout(200);
if (!refused) wrong("a picture from elsewhere is not refused");
await b.close();
console.log("looked");
