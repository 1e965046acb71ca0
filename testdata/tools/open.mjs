// Takes a folder of recordings by the local page alone to a swimmer's page, in a real
// browser: chooses the folder, fills the forms by keyboard and by hand, checks, runs,
// reads the pages and saves the evidence pack; at every step light and dark, on a desk
// and a phone, axe looks for barriers. Prints what is wrong, one line each, then what
// was done.
//
//   node open.mjs MODULES BROWSER ADDRESS RECORDINGS [PICTURES]
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const [modules, browser, address, recordings, pictures] = process.argv.slice(2);
const require = createRequire(join(modules, "..", "x.js"));
const { chromium } = require("playwright-core");
const axe = readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const standards = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];
const said = new Set();
const wrong = (...words) => { const line = words.join(" "); if (!said.has(line)) { said.add(line); console.log(line); } };
const origin = new URL(address).origin;

const b = await chromium.launch({ executablePath: browser, args: ["--no-sandbox"] });
const context = await b.newContext({ viewport: { width: 1280, height: 900 }, bypassCSP: false });
const page = await context.newPage();
let where = "at first";
page.on("console", (m) => wrong(where + ":", "the console says", m.text()));
page.on("pageerror", (e) => wrong(where + ":", "error", e.message));
page.on("request", (r) => { if (new URL(r.url()).origin !== origin && !r.url().startsWith("data:")) wrong(where + ":", "asks for", r.url()); });
page.setDefaultTimeout(120_000);

// axe comes in by the debugger, which the page's policy does not stop; the policy is
// the page's own all the same.
const devtools = await context.newCDPSession(page);
let looks = 0;
const look = async (at) => {
  where = at;
  for (const [width, colorScheme] of [[1280, "light"], [1280, "dark"], [390, "light"], [390, "dark"]]) {
    await page.setViewportSize({ width, height: 844 });
    await page.emulateMedia({ colorScheme });
    const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    if (over > 0) wrong(at, width, colorScheme, "is", String(over), "px too wide");
    await devtools.send("Runtime.evaluate", { expression: axe });
    const found = await page.evaluate((values) => window.axe.run(document, { runOnly: { type: "tag", values }, resultTypes: ["violations"] }), standards);
    if (found.passes.length < 8) wrong(at, "axe looked at", String(found.passes.length), "rules only");
    for (const v of found.violations) wrong(at, width, colorScheme, "axe:", v.id, v.help, v.nodes.map((n) => n.target.join(" ")).slice(0, 3).join(" | "));
    if (pictures) await page.screenshot({ path: join(pictures, `open-${at.replaceAll(" ", "-")}-${width}-${colorScheme}.png`), fullPage: true });
    looks++;
  }
  await page.setViewportSize({ width: 1280, height: 900 });
  await page.emulateMedia({ colorScheme: "light" });
};

// By keyboard: as many stops as there are things to stop at, each to be seen.
const byKeyboard = async () => {
  await page.goto(origin + "/"); // without the place in the page where a form led to
  const stops = await page.evaluate(() => [...document.querySelectorAll("a[href], summary, button, input, select, textarea, [tabindex='0']")].filter((e) => e.checkVisibility() && e.type !== "hidden").length);
  let reached = 0;
  for (; reached < stops + 20; reached++) {
    await page.keyboard.press("Tab");
    const state = await page.evaluate(() => {
      const e = document.activeElement;
      if (!e || e === document.body) return null;
      const s = getComputedStyle(e), r = e.getBoundingClientRect();
      return { tag: e.tagName + " " + (e.getAttribute("aria-label") ?? e.textContent).trim().slice(0, 30), seen: s.outlineStyle !== "none" && parseFloat(s.outlineWidth) > 0, inView: r.width > 0 && r.bottom > 0 && r.top < innerHeight };
    });
    if (!state) break;
    if (!state.seen || !state.inView) wrong(where + ":", "the focus is not to be seen on", state.tag);
  }
  if (reached < stops) wrong(where + ":", "by Tab one reaches", String(reached), "of", String(stops), "things");
};

const away = await context.request.get(origin + "/");
if (away.ok()) wrong("without its token the page is shown");
await page.goto(address);
if ((await page.title()) !== "lengthwise on this machine") wrong("another page:", await page.title());
await look("empty");
await byKeyboard();

where = "dropping";
await page.setInputFiles("#folder", recordings);
await page.getByRole("button", { name: "Copy them" }).focus();
await page.keyboard.press("Enter");
await page.getByRole("heading", { name: "What a study of these files needs to know" }).waitFor();
await look("proposal");
await byKeyboard();
await page.getByLabel("Time zone where the squad swims").fill("Europe/Lisbon");
for (const pool of await page.getByLabel("Pool, where a recording does not say").all()) await pool.fill("25m");
for (const select of await page.locator("select[name^='column time']").all()) await select.selectOption("Split");
for (const select of await page.locator("select[name^='column strokes']").all()) await select.selectOption("SC");
await page.getByRole("button", { name: "Write the study file" }).click();
await page.getByRole("heading", { name: "Swimmers", exact: true }).waitFor();
await page.getByText("Settings: what to read and what to ask").click();
const settings = await page.getByLabel("study.yaml").inputValue();
if (!settings.includes("smallest_group: 10")) wrong("the study file has no smallest group of 10");
await page.getByLabel("study.yaml").fill(settings.replace("smallest_group: 10", "smallest_group: 2"));
await page.getByRole("button", { name: "Save the study file" }).click();
await page.getByRole("heading", { name: "Swimmers", exact: true }).waitFor();
const consents = await page.getByLabel(/^Consent of /).all();
for (const c of consents) await c.selectOption("yes");
await page.getByRole("button", { name: "Save the swimmers" }).click();
await page.getByRole("button", { name: "Check" }).waitFor();
await look("swimmers");
await byKeyboard();

where = "checking";
await page.getByRole("button", { name: "Check" }).click();
await page.getByRole("heading", { name: "What can be answered" }).waitFor();
await look("checked");
where = "running";
await page.getByRole("button", { name: "Run" }).click();
const shown = new Set();
for (const until = Date.now() + 110_000; Date.now() < until;) {
  const state = await page.evaluate(() => ({ phase: document.getElementById("phase")?.textContent ?? "", link: !!document.querySelector("#job a.go") })).catch(() => null);
  if (state?.phase) shown.add(state.phase.split(":")[0]);
  if (state?.link) break;
  await new Promise((r) => setTimeout(r, 50));
}
await page.getByRole("link", { name: "Read the pages" }).first().waitFor();
await look("ran");
const [saved] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "Save the evidence pack" }).first().click()]).catch((e) => [wrong("the pack cannot be saved:", e.message)]);
let pack = 0;
if (saved) {
  const data = readFileSync(await saved.path());
  pack = data.length;
  if (saved.suggestedFilename() !== "evidence.zip" || data.readUInt32LE(0) !== 0x04034b50) wrong("what is saved is no pack:", saved.suggestedFilename());
}
where = "reading";
await page.getByRole("link", { name: "Read the pages" }).first().click();
await page.getByRole("heading", { level: 1 }).waitFor();
await page.locator("ul.pages a").first().click();
await page.getByRole("heading", { name: "What was left out, and why" }).waitFor();
const swimmer = await page.getByRole("heading", { level: 1 }).textContent();
await page.goto(origin + "/");
where = "after";
await look("again");
await page.getByRole("button", { name: "End lengthwise" }).click();
await page.getByRole("heading", { name: "lengthwise has ended" }).waitFor();
await b.close();
if (!swimmer) wrong("a swimmer's page without a name");
console.log(`looked ${looks} times; ${consents.length} swimmers; phases shown: ${shown.size > 0}; pack: ${pack > 10_000}`);
