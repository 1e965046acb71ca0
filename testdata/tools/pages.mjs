// Opens the pages of a folder from disk in a real browser: light and dark, on a
// phone and a desk, and as print; follows links, walks through by Tab, and lets axe
// look for barriers. Prints what is wrong, one line each, then "looked at N pages".
// Of the pages below the first folder it takes SOME, from the smallest file to the
// largest; all of them unless told.
//
//   node pages.mjs MODULES BROWSER FOLDER [SOME [PICTURES]]
import { readFileSync, readdirSync, statSync, existsSync } from "node:fs";
import { createRequire } from "node:module";
import { join, relative } from "node:path";
import { pathToFileURL, fileURLToPath } from "node:url";

const [modules, browser, folder, some, pictures] = process.argv.slice(2);
const require = createRequire(join(modules, "..", "x.js"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const standards = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
const largest = 3e6; // bytes of a page
const said = new Set();
const wrong = (...words) => { const line = words.join(" "); if (!said.has(line)) { said.add(line); console.log(line); } };

const files = readdirSync(folder, { recursive: true }).filter((f) => f.endsWith(".html")).sort();
const size = (f) => statSync(join(folder, f)).size;
const below = files.filter((f) => f.includes("/")).sort((a, b) => size(a) - size(b));
const n = Math.min(Number(some) || below.length, below.length);
const chosen = [...files.filter((f) => !f.includes("/")), ...Array.from({ length: n }, (_, i) => below[Math.round(i * (below.length - 1) / Math.max(1, n - 1))])];
const b = await chromium.launch({ executablePath: browser, args: ["--no-sandbox"] });
const views = [["desk", 1280, 900, "light"], ["phone", 390, 844, "light"], ["dark desk", 1280, 900, "dark"], ["dark phone", 390, 844, "dark"]];
let texts = 0;
let saves = 0;
const linked = new Set(["index.html"]);
for (const [view, width, height, colorScheme] of views) {
  const context = await b.newContext({ viewport: { width, height }, colorScheme });
  const page = await context.newPage();
  let where = "";
  page.on("console", (m) => wrong(where, "the console says", m.text()));
  page.on("pageerror", (e) => wrong(where, "error", e.message));
  page.on("request", (r) => { if (!/^(file|data):/.test(r.url())) wrong(where, "asks for", r.url()); });
  for (const name of chosen) {
    where = view + " " + name + ":";
    const path = join(folder, name);
    await page.goto(pathToFileURL(path).href);
    const overflow = () => page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    if (await overflow() > 0) wrong(where, "is", String(await overflow()), "px too wide");
    // Everything that is folded away is looked at as well.
    await page.evaluate(() => { for (const d of document.querySelectorAll("details")) d.open = true; });
    if (await overflow() > 0) wrong(where, "unfolded is", String(await overflow()), "px too wide");
    await page.evaluate(axe);
    const found = await page.evaluate((values) => window.axe.run(document, { runOnly: { type: "tag", values }, resultTypes: ["violations", "incomplete"] }), standards);
    if (found.passes.length < 10) wrong(where, "axe looked at", String(found.passes.length), "rules only");
    for (const v of found.violations) wrong(where, "axe:", v.id, v.help, v.nodes.map((n) => n.target.join(" ")).slice(0, 3).join(" | "));
    // All text on the ground it stands on, 4.5 to 1, or 3 to 1 where it is large: axe
    // cannot tell in pictures, of single signs, and where a table scrolls out of sight.
    const faint = await page.evaluate(() => {
      const parts = (c) => { const v = c.match(/[\d.]+/g).map(Number); return v.length > 3 && v[3] === 0 ? null : v; };
      const light = (c) => { const v = c.slice(0, 3).map((x) => x / 255).map((x) => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4); return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2]; };
      const seen = new Set(), faint = [];
      let texts = 0;
      for (const e of document.querySelectorAll("body *")) {
        if (![...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()) || !e.checkVisibility()) continue;
        texts++;
        const s = getComputedStyle(e), ink = e.closest("svg") ? s.fill : s.color;
        let ground = null, at = e;
        for (; at && !ground; at = at.parentElement) ground = parts(getComputedStyle(at).backgroundColor);
        ground ??= [255, 255, 255];
        const px = parseFloat(s.fontSize), least = px >= 24 || px >= 18.66 && Number(s.fontWeight) >= 700 ? 3 : 4.5;
        const key = ink + ground + least;
        if (seen.has(key)) continue;
        seen.add(key);
        const [a, b] = [light(parts(ink) ?? [255, 255, 255]), light(ground)].sort((x, y) => y - x);
        const ratio = (a + 0.05) / (b + 0.05);
        if (ratio < least || ground.length > 3 && ground[3] < 1) faint.push(ratio.toFixed(2) + " to 1: " + e.textContent.trim().slice(0, 40) + ", " + ink + " on " + ground);
      }
      return { texts, faint };
    });
    for (const f of faint.faint) wrong(where, "text has", f);
    texts += faint.texts;
    const measured = ["imgNode", "shortTextContent", "elmPartiallyObscured", "elmPartiallyObscuring"];
    for (const v of found.incomplete) {
      const nodes = v.nodes.filter((n) => v.id !== "color-contrast" || !measured.includes(n.any[0]?.data?.messageKey));
      if (nodes.length) wrong(where, "axe cannot tell:", v.id, String(nodes.length), nodes.map((n) => n.target.join(" ") + " (" + n.any[0]?.data?.messageKey + ")").slice(0, 3).join(" | "));
    }
    if (pictures) await page.screenshot({ path: join(pictures, (view + "-" + name).replaceAll(/[ /]/g, "-") + ".png"), fullPage: true });
    if (view !== "desk") continue;
    for (const href of await page.$$eval("a[href]", (as) => as.map((a) => a.href))) {
      if (!href.startsWith("file:")) continue;
      const [target, anchor] = href.split("#");
      const to = fileURLToPath(target);
      linked.add(relative(folder, to));
      if (!existsSync(to)) wrong(where, "a link leads nowhere:", relative(folder, to));
      else if (anchor && !readFileSync(to, "utf8").includes(`id="${decodeURIComponent(anchor)}"`)) wrong(where, "a link leads to no place:", anchor);
    }
    // What a page carries can be saved, as it was written. A browser stops a page that
    // saves more than ten files in a row.
    for (const link of (await page.$$("a[download]")).slice(0, 8)) {
      const [name, href] = [await link.getAttribute("download"), await link.getAttribute("href")];
      const [saved] = await Promise.all([page.waitForEvent("download", { timeout: 5000 }), link.click()]).catch((e) => [wrong(where, name, "cannot be saved:", e.message)]);
      if (!saved) continue;
      const want = Buffer.from(href.slice(href.indexOf(",") + 1), "base64");
      if (saved.suggestedFilename() !== name) wrong(where, name, "is saved as", saved.suggestedFilename());
      if (!readFileSync(await saved.path()).equals(want)) wrong(where, name, "is saved with other bytes");
      saves++;
    }
    // By keyboard: as many stops as there are things to stop at, each to be seen.
    await page.reload();
    const stops = await page.evaluate(() => [...document.querySelectorAll("a[href], summary, button, input, select, [tabindex='0']")].filter((e) => e.checkVisibility()).length);
    let reached = 0;
    for (; reached < stops + 5; reached++) {
      await page.keyboard.press("Tab");
      const state = await page.evaluate(() => {
        const e = document.activeElement;
        if (!e || e === document.body) return null;
        const s = getComputedStyle(e), r = e.getBoundingClientRect();
        return { tag: e.tagName + " " + e.textContent.trim().slice(0, 30), seen: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) > 0, inView: r.width > 0 && r.bottom > 0 && r.top < innerHeight };
      });
      if (!state) break;
      if (!state.seen || !state.inView) wrong(where, "the focus is not to be seen on", state.tag);
    }
    if (reached < stops) wrong(where, "by Tab one reaches", String(reached), "of", String(stops), "things");
    await page.emulateMedia({ media: "print" });
    for (const format of [["A4", 794], ["Letter", 816]]) {
      await page.setViewportSize({ width: format[1] - 2 * 57, height: 1000 });
      if (await overflow() > 0) wrong(where, "printed on", format[0], "is", String(await overflow()), "px too wide");
    }
    const black = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    if (!/255, 255, 255|rgba\(0, 0, 0, 0\)/.test(black)) wrong(where, "prints on", black);
    await page.emulateMedia({ media: "screen" });
    await page.setViewportSize({ width, height });
  }
  await context.close();
}
for (const name of files) {
  if (!linked.has(name)) wrong(name, "is linked from nowhere");
  if (size(name) > largest) wrong(name, "has", String(size(name)), "bytes");
}
if (texts < 100) wrong("only", String(texts), "pieces of text were looked at");
await b.close();
if (!saves) console.log("no page carries anything to save");
console.log("looked at " + chosen.length + " pages");
