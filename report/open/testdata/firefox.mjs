// The working page in Firefox, by WebDriver BiDi: a piece is put right by mouse,
// another by keyboard, one that was missed is drawn. Given the page's address;
// GREIGE_NODE is the folder in which puppeteer-core is installed.
import { createRequire } from "node:module";

const puppeteer = createRequire(process.env.GREIGE_NODE + "/")("puppeteer-core");
const browser = await puppeteer.launch({ browser: "firefox", executablePath: process.env.GREIGE_FIREFOX, headless: true });
const page = await browser.newPage();
const wrong = [];
page.on("pageerror", (e) => wrong.push(String(e)));
page.on("console", (m) => { if (m.type() === "error") wrong.push(m.text()); });
await page.setViewport({ width: 1280, height: 1400 });
await page.goto(process.argv[2], { waitUntil: "load" });
const there = (key) => page.waitForSelector(`[data-key="${key}"]`, { timeout: 30000 });
const gone = (key) => page.waitForFunction((k) => !document.querySelector(`[data-key="${k}"]`), { timeout: 30000 }, key);
const press = async (key) => { await there(key); await page.$eval(`[data-key="${key}"]`, (e) => e.scrollIntoView({ block: "center" })); await (await there(key)).click(); };

await press("piece2");
await press("b-not");
await gone("piece2");
await there("piece1");
await page.$eval('[data-key="piece1"]', (e) => e.focus());
await page.keyboard.press(" ");
await page.keyboard.press("n");
await gone("piece1");
await press("b-undo");
await there("piece1");
await press("b-box");
await there("b-take");
const r = await page.$eval("#stage .picture", (e) => { e.scrollIntoView({ block: "center" }); const b = e.getBoundingClientRect(); return [b.left, b.top, b.width, b.height]; });
await page.mouse.move(r[0] + .82 * r[2], r[1] + .7 * r[3]);
await page.mouse.down();
await page.mouse.move(r[0] + .95 * r[2], r[1] + .9 * r[3], { steps: 5 });
await page.mouse.up();
await press("b-take");
await there("piece7");
console.log(await page.$eval("#headline", (e) => e.textContent));
await browser.close();
if (wrong.length) { console.error(wrong.join("\n")); process.exit(1); }
