/**
 * Draws the figures that the server wrote, once somebody asks for them. It knows nothing of students. The
 * library is fetched from this site when "Show charts" is pressed, never before; without this script the
 * tables stand there and the button does not.
 */

const SETTINGS = {
  displayModeBar: false,
  displaylogo: false,
  showSendToCloud: false,
  plotlyServerURL: "",
  showTips: false,
  doubleClick: false,
  scrollZoom: false,
  responsive: true,
};

/**
 * @typedef {{ data: object[], layout: object }} Figure
 * @typedef {{ react: (place: HTMLElement, data: object[], layout: object, settings: object) => Promise<unknown> }} Library
 */

/** Shows the button on a page that has charts. */
function start() {
  const charts = document.querySelector("[data-charts]");
  const button = charts?.querySelector("[data-show-charts]");
  if (!(charts instanceof HTMLElement) || !(button instanceof HTMLButtonElement)) {
    return;
  }
  button.hidden = false;
  button.addEventListener("click", () => void show(charts, button));
}

/**
 * Brings the figures and the library, and draws; says so where one of them does not come.
 * @param {HTMLElement} charts
 * @param {HTMLButtonElement} button
 */
async function show(charts, button) {
  button.disabled = true;
  say(charts, "loading");
  try {
    const place = await figures(charts);
    await styles(charts.dataset.styles ?? "");
    const library = await drawing(charts.dataset.library ?? "");
    for (const part of place.querySelectorAll("[data-drawn][hidden]")) {
      part.removeAttribute("hidden");
    }
    const pictures = [...place.querySelectorAll("[data-figure]")].filter((one) => one instanceof HTMLElement);
    await draw(library, pictures);
    follow(() => void draw(library, pictures));
    button.hidden = true;
    charts.querySelector("[data-charts-tables]")?.setAttribute("hidden", "");
    say(charts, "");
    place.focus();
  } catch {
    button.disabled = false;
    say(charts, "lost");
  }
}

/**
 * Finds the figures on the page, or fetches them into it.
 * @param {HTMLElement} charts
 * @returns {Promise<HTMLElement>}
 */
async function figures(charts) {
  const place = charts.querySelector("[data-charts-figures]");
  if (!(place instanceof HTMLElement)) {
    throw new Error("no place for the figures");
  }
  if (place.childElementCount > 0) {
    return place;
  }
  const answer = await fetch(charts.dataset.charts ?? "", { headers: { "HX-Request": "true" } });
  // A sign-in that ran out leads to another page, which is none of the figures.
  if (!answer.ok || answer.redirected) {
    throw new Error(`the figures answered ${answer.status}`);
  }
  const read = new DOMParser().parseFromString(await answer.text(), "text/html");
  place.replaceChildren(...read.body.childNodes);
  return place;
}

/**
 * Links the library's styles under the name by which it knows that it must not write them into the page.
 * @param {string} address
 * @returns {Promise<void>}
 */
function styles(address) {
  if (document.getElementById("plotly.js-style-global")) {
    return Promise.resolve();
  }
  return new Promise((resolve, reject) => {
    const link = document.createElement("link");
    link.id = "plotly.js-style-global";
    link.className = "no-inline-styles";
    link.rel = "stylesheet";
    link.href = address;
    link.addEventListener("load", () => resolve());
    link.addEventListener("error", () => {
      link.remove();
      reject(new Error("the styles did not come"));
    });
    document.head.append(link);
  });
}

let asked = 0;

/**
 * Fetches the library. Some browsers remember of an address that nothing came, so each try has its own name.
 * @param {string} address
 * @returns {Promise<Library>}
 */
async function drawing(address) {
  asked += 1;
  await import(asked === 1 ? address : `${address}#${asked}`);
  return Reflect.get(window, "Plotly");
}

/**
 * Draws every picture in the colours that hold now.
 * @param {Library} library
 * @param {HTMLElement[]} pictures
 */
async function draw(library, pictures) {
  const tokens = getComputedStyle(document.documentElement);
  for (const picture of pictures) {
    const written = document.getElementById(picture.dataset.figure ?? "");
    /** @type {Figure} */
    const figure = coloured(JSON.parse(written?.textContent ?? "{}"), tokens);
    await library.react(picture, figure.data, figure.layout, SETTINGS);
  }
}

/**
 * Puts the value of a token in the place of its name.
 * @param {any} value
 * @param {CSSStyleDeclaration} tokens
 * @returns {any}
 */
function coloured(value, tokens) {
  if (typeof value === "string") {
    return value.startsWith("--") ? tokens.getPropertyValue(value).trim() : value;
  }
  if (Array.isArray(value)) {
    return value.map((one) => coloured(one, tokens));
  }
  if (value && typeof value === "object") {
    return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, coloured(one, tokens)]));
  }
  return value;
}

/**
 * Calls when the colours change: the system's theme, the reader's own choice, or a printer.
 * @param {() => void} redraw
 */
function follow(redraw) {
  for (const medium of ["(prefers-color-scheme: dark)", "print"]) {
    window.matchMedia(medium).addEventListener("change", redraw);
  }
  const watch = new MutationObserver(redraw);
  watch.observe(document.documentElement, { attributes: true, attributeFilter: ["data-theme"] });
}

/**
 * Says how it stands, in the words that the page has ready; "" says nothing.
 * @param {HTMLElement} charts
 * @param {"loading" | "lost" | ""} state
 */
function say(charts, state) {
  const status = charts.querySelector("[data-charts-status]");
  if (status instanceof HTMLElement) {
    status.textContent = status.dataset[state] ?? "";
  }
}

start();
