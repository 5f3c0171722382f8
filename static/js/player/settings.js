/**
 * How a student likes the session: kept on this phone, chosen in one folded panel of ordinary controls.
 *
 * @typedef {{click: "tick"|"knock"|"brush"|"off", loudness: "soft"|"middle"|"loud", size: "auto"|"hand"|"stand",
 *   pitch: "written"|"concert", flash: boolean, buzz: boolean, judge: boolean}} Settings
 */

const SHELF = "filar.settings";
/** The first of each is what a phone begins with. */
const CHOICES = /** @type {const} */ ({
  click: ["tick", "knock", "brush", "off"],
  loudness: ["soft", "middle", "loud"],
  size: ["auto", "hand", "stand"],
  pitch: ["written", "concert"],
});
const SWITCHES = /** @type {const} */ (["flash", "buzz", "judge"]);

/**
 * @param {HTMLFormElement} form the panel: radios named like a choice, boxes named like a switch
 * @param {(settings: Settings, changed: string) => void} tell called after every change
 */
export function createSettings(form, tell) {
  const self = { settings: read() };
  fill();
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("change", (event) => {
    const { name } = /** @type {HTMLInputElement} */ (event.target);
    self.settings = asked();
    keep(self.settings);
    tell(self.settings, name);
  });

  function fill() {
    for (const input of form.querySelectorAll("input")) {
      const value = self.settings[/** @type {keyof Settings} */ (input.name)];
      input.checked = input.type === "radio" ? input.value === value : value === true;
    }
  }

  function asked() {
    const given = new FormData(form);
    const switches = SWITCHES.map((name) => [name, given.has(name)]);
    return sound({ ...Object.fromEntries(given), ...Object.fromEntries(switches) });
  }

  return { now: () => self.settings };
}

/** @returns {Settings} */
function read() {
  try {
    return sound(JSON.parse(localStorage.getItem(SHELF) ?? "{}"));
  } catch {
    return sound({});
  }
}

/** @param {Settings} settings */
function keep(settings) {
  try {
    localStorage.setItem(SHELF, JSON.stringify(settings));
  } catch {
    // Without room the choice holds until the page is left.
  }
}

/** Take what is known, and for all else what a phone begins with. @returns {Settings} */
function sound(/** @type {any} */ given) {
  const chosen = Object.entries(CHOICES).map(([name, all]) => [name, all.find((one) => one === given?.[name]) ?? all[0]]);
  const switched = SWITCHES.map((name) => [name, given?.[name] === true]);
  return Object.fromEntries([...chosen, ...switched]);
}
