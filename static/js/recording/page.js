/**
 * Records a few held notes after a press, plays them back, and sends them or throws them away.
 *
 * Nothing waits on the phone: a recording lives in this page alone, and is gone when the page is closed.
 *
 * @typedef {import("./course.js").Course} Course
 * @typedef {{context: AudioContext, stream: MediaStream, pieces: Float32Array[], frames: number, loudest: number}} Take
 */

const UNASKED = ["echoCancellation", "noiseSuppression", "autoGainControl"];
const QUIET_BELOW = 0.02;
const CUT_OFF_FROM = 0.99;
/** The meter falls by this share of itself with each piece of sound. */
const FALL = 0.97;
/** How far ahead of its time a click is laid, in seconds, so that the first is not late. */
const LEAD = 0.05;

const root = document.querySelector("[data-recording]");
if (root instanceof HTMLElement) void start(root);

/** @param {HTMLElement} root */
async function start(root) {
  const part = (/** @type {string} */ name) => /** @type {HTMLElement} */ (root.querySelector(`[data-${name}]`));
  const [sound, course, click] = await Promise.all(
    ["sound", "course", "click"].map((name) => import(root.dataset[`${name}Module`] ?? "")),
  );
  /** @type {Course} */
  const plan = JSON.parse(document.getElementById("course")?.textContent ?? "");
  const said = (/** @type {string} */ name) => root.dataset[`say${name}`] ?? "";
  const saying = { silence: said("Silence"), "count-in": said("Count"), hold: said("Hold"), rest: said("Rest"), over: said("Rest"), next: said("Next") };
  const self = { take: /** @type {Take|null} */ (null), blob: /** @type {Blob|null} */ (null), address: "", query: "" };
  root.hidden = false;
  if (navigator.mediaDevices?.getUserMedia === undefined || window.AudioWorkletNode === undefined) {
    show(root, "trouble", "old");
    return;
  }
  show(root, "ready");

  part("record").addEventListener("click", async () => {
    show(root, "asking");
    try {
      self.take = await listen(root.dataset.takerModule ?? "", (piece) => heard(piece));
    } catch (error) {
      const denied = error instanceof DOMException && error.name === "NotAllowedError";
      const missing = error instanceof DOMException && error.name === "NotFoundError";
      show(root, "trouble", denied ? "denied" : missing ? "none" : "other");
      return;
    }
    self.take.stream.getAudioTracks()[0].addEventListener("ended", () => void stop());
    const earphones = part("earphones");
    if (earphones instanceof HTMLInputElement && earphones.checked) layClicks(self.take.context, click, course.clicks(plan));
    show(root, "recording");
  });
  part("stop").addEventListener("click", () => void stop());
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) void stop();
  });
  part("again").addEventListener("click", () => forget());
  part("try").addEventListener("click", () => show(root, "ready"));
  part("send").addEventListener("click", () => void send());

  /** @param {Float32Array} piece */
  function heard(piece) {
    const { take } = self;
    if (take === null) return;
    take.pieces.push(piece);
    take.frames += piece.length;
    const peak = piece.reduce((most, sample) => Math.max(most, Math.abs(sample)), 0);
    take.loudest = Math.max(take.loudest, peak);
    const meter = /** @type {HTMLMeterElement} */ (part("meter"));
    meter.value = Math.max(Math.sqrt(peak), meter.value * FALL);
    const seconds = take.frames / take.context.sampleRate;
    const place = course.placeAt(plan, seconds);
    tell(place, Math.floor(seconds));
    if (place.phase === "over" || seconds >= plan.most) void stop();
  }

  /** @param {import("./course.js").Place} place @param {number} seconds */
  function tell(place, seconds) {
    const light = part("light");
    light.dataset.is = place.phase;
    light.dataset.lit = place.count % 2 === 1 ? "odd" : "even";
    const next = place.phase === "rest" ? plan.notes[place.note + 1] : undefined;
    const words = next === undefined ? saying[place.phase] : saying.next.replace("NOTE", next);
    setText(part("phase"), words);
    // What stands large is to be played now: in a rest nothing is.
    setText(part("note"), place.phase === "rest" ? "" : plan.notes[place.note]);
    setText(part("count"), place.phase === "silence" ? "" : String(place.count));
    setText(part("seconds"), String(seconds));
  }

  async function stop() {
    const { take } = self;
    if (take === null) return;
    self.take = null;
    take.stream.getTracks().forEach((track) => track.stop());
    const settings = take.stream.getAudioTracks()[0].getSettings();
    const rate = take.context.sampleRate;
    await take.context.close();
    const made = sound.halved(sound.joined(take.pieces), rate);
    self.blob = sound.wav(made.samples, made.rate);
    self.query = asQuery(settings, course.notesBy(plan, take.frames / rate));
    self.address = URL.createObjectURL(self.blob);
    /** @type {HTMLAudioElement} */ (part("playback")).src = self.address;
    part("quiet").hidden = take.loudest >= QUIET_BELOW;
    part("cut-off").hidden = take.loudest < CUT_OFF_FROM;
    show(root, "done");
  }

  async function send() {
    const button = /** @type {HTMLButtonElement} */ (part("send"));
    button.disabled = true;
    setText(part("sending"), root.dataset.saySending ?? "");
    const words = await sendTo(root, self.query, /** @type {Blob} */ (self.blob));
    button.disabled = false;
    setText(part("sending"), words.said);
    if (!words.kept) return;
    setText(part("sent-words"), words.said);
    setText(part("sending"), "");
    forget();
    show(root, "sent");
  }

  function forget() {
    URL.revokeObjectURL(self.address);
    /** @type {HTMLAudioElement} */ (part("playback")).removeAttribute("src");
    self.blob = null;
    setText(part("sending"), "");
    show(root, "ready");
  }
}

/**
 * Open the microphone as it is, with nothing done to its sound, and hand on every piece of it.
 * @param {string} module @param {(piece: Float32Array) => void} hand @returns {Promise<Take>}
 */
async function listen(module, hand) {
  const off = Object.fromEntries(UNASKED.map((name) => [name, false]));
  const stream = await navigator.mediaDevices.getUserMedia({ audio: { ...off, channelCount: 1 } });
  const context = new AudioContext();
  try {
    await context.audioWorklet.addModule(module);
    await context.resume();
  } catch (error) {
    stream.getTracks().forEach((track) => track.stop());
    throw error;
  }
  const taker = new AudioWorkletNode(context, "taker", { channelCountMode: "max" });
  taker.port.onmessage = ({ data }) => hand(data);
  // It gives out silence: nothing of the microphone is played while it records.
  context.createMediaStreamSource(stream).connect(taker).connect(context.destination);
  return { context, stream, pieces: [], frames: 0, loudest: 0 };
}

/**
 * @param {AudioContext} context @param {typeof import("../player/click.js")} click
 * @param {{seconds: number, kind: any}[]} counts
 */
function layClicks(context, click, counts) {
  const buffers = click.makeBuffers(context, "tick");
  const soft = context.createGain();
  soft.gain.value = 0.25;
  soft.connect(context.destination);
  const now = context.currentTime + LEAD;
  for (const { seconds, kind } of counts) click.layClick(context, soft, buffers, kind, now + seconds);
}

/** @param {MediaTrackSettings} settings @param {number} notes */
function asQuery(settings, notes) {
  const query = new URLSearchParams({ key: newKey(), notes: String(notes) });
  for (const name of UNASKED) {
    const answer = /** @type {Record<string, unknown>} */ (settings)[name];
    query.set(name, answer === true ? "on" : answer === false ? "off" : "unknown");
  }
  return query.toString();
}

/** A random UUID; `randomUUID` is newer than AudioWorklet on some phones. */
function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** @param {HTMLElement} root @param {string} query @param {Blob} blob */
async function sendTo(root, query, blob) {
  const token = /** @type {HTMLInputElement} */ (root.querySelector("[name=csrfmiddlewaretoken]")).value;
  try {
    const answer = await fetch(`${root.dataset.to}?${query}`, {
      method: "POST",
      body: blob,
      headers: { "X-CSRFToken": token, "Content-Type": "audio/wav", Accept: "application/json" },
    });
    const { words } = await answer.json();
    return { kept: answer.ok, said: String(words) };
  } catch {
    return { kept: false, said: root.dataset.sayNotSent ?? "" };
  }
}

/** @param {HTMLElement} root @param {string} view @param {string} [trouble] */
function show(root, view, trouble = "") {
  root.dataset.view = view;
  for (const part of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll("[data-in]"))) {
    part.hidden = part.dataset.in !== view;
  }
  for (const part of /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll("[data-trouble]"))) {
    part.hidden = part.dataset.trouble !== trouble;
  }
  const first = root.querySelector(`[data-in="${view}"] [data-first]`);
  if (first instanceof HTMLElement && view !== "asking" && document.activeElement !== document.body) first.focus();
}

/** @param {HTMLElement} element @param {string} text */
function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}
