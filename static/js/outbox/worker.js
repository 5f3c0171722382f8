/**
 * The phone's service worker: a student's own pages open without signal from the second visit on.
 *
 * Pages come from the network, and from the phone only where that fails or takes too long. A page is kept
 * only if the server said it may be; each student's pages lie apart and go when the server no longer
 * knows the phone. Posts, teachers' pages and errors are never kept; what waits to be sent lies in the outbox,
 * which no update of this worker touches.
 *
 * @typedef {typeof import("./outbox.js")} Outbox
 * @typedef {{noSignal: string, shell: string[]}} Plan  shell: files that no page names, such as fonts
 * @typedef {{keep: string[], student: string, edition: string}} Wish
 */

const FILES = "filar-files";
const PAGES = "filar-pages-";
const WHO = "/practice";
const MARK = "Filar-Keep";
const PATIENCE_MILLISECONDS = 3000;
const OF_A_STUDENT = /^\/practice\/([0-9a-f]{16})(\/session|\/check-in|\/month)?$/;
const HASHED = /\.[0-9a-f]{12}\.\w+$/;
const NAMED_FILES = /["'](\/static\/[^"'#?\s]+)/g;

/** @param {any} scope the worker itself @param {Outbox} outbox @param {Plan} plan */
export function serve(scope, outbox, plan) {
  scope.addEventListener("install", (/** @type {any} */ event) => {
    scope.skipWaiting();
    event.waitUntil(install(plan));
  });
  scope.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(scope.clients.claim()));
  scope.addEventListener("fetch", (/** @type {any} */ event) => answer(scope, plan, event));
  scope.addEventListener("message", (/** @type {any} */ event) => {
    if (event.data?.keep) event.waitUntil(keepPages(plan, event.data));
  });
  scope.addEventListener("sync", (/** @type {any} */ event) => {
    if (event.tag === outbox.NAME) event.waitUntil(sendInBackground(outbox));
  });
}

/** The browser tries again later where this fails. @param {Outbox} outbox */
async function sendInBackground(outbox) {
  await outbox.flush();
  const left = await outbox.waiting();
  if (left.some((row) => row.problem === null)) throw new Error("Some still wait.");
}

/** @param {Plan} plan */
async function install(plan) {
  const files = await caches.open(FILES);
  const page = await fetch(plan.noSignal, { cache: "no-store" });
  if (!page.ok) throw new Error("The page for no signal did not come.");
  const text = await page.clone().text();
  await addFiles(files, [...plan.shell, ...filesIn(text)]);
  await files.put(plan.noSignal, page);
}

/** @param {any} scope @param {Plan} plan @param {any} event */
function answer(scope, plan, event) {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== scope.location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(fileFor(request, url.pathname));
  else if (request.mode === "navigate" && isOurs(url.pathname)) event.respondWith(pageFor(event, url.pathname, plan));
}

/** @param {string} path */
function isOurs(path) {
  return path === WHO || OF_A_STUDENT.test(path);
}

/** A file under a hashed name never changes; any other comes from the network while there is one. */
async function fileFor(/** @type {Request} */ request, /** @type {string} */ path) {
  const kept = await caches.match(path);
  if (kept !== undefined && HASHED.test(path)) return kept;
  try {
    const file = await fetch(request);
    if (file.ok && file.type === "basic") await (await caches.open(FILES)).put(path, file.clone());
    return file;
  } catch (error) {
    if (kept !== undefined) return kept;
    throw error;
  }
}

/** @param {any} event @param {string} path @param {Plan} plan */
async function pageFor(event, path, plan) {
  const coming = fetch(event.request).then((page) => {
    event.waitUntil(learn(path, page.clone()));
    return page;
  });
  event.waitUntil(coming.catch(() => {}));
  const kept = await keptPage(path);
  try {
    const page = await (kept === null ? coming : inTime(coming));
    return page.status >= 500 && kept !== null ? kept : page;
  } catch {
    return kept ?? (await keptPage(plan.noSignal)) ?? Response.error();
  }
}

/** @param {Promise<Response>} coming @returns {Promise<Response>} */
function inTime(coming) {
  return new Promise((done, fail) => {
    const timer = setTimeout(() => fail(new Error("slow")), PATIENCE_MILLISECONDS);
    coming.then(done, fail).finally(() => clearTimeout(timer));
  });
}

/** Keep what the server lets the phone keep; drop what it says is not for this phone any more. */
async function learn(/** @type {string} */ path, /** @type {Response} */ page) {
  const [, student, part] = OF_A_STUDENT.exec(path) ?? [];
  const shelf = student === undefined ? FILES : PAGES + student;
  if (page.ok && page.type === "basic" && !page.redirected && page.headers.get(MARK) === "yes") {
    await (await caches.open(shelf)).put(path, page);
  } else if (page.status === 404 && student !== undefined && part === undefined) {
    await caches.delete(shelf);
  } else if (page.status === 404 || page.redirected) {
    await (await shelfIfThere(shelf))?.delete(path);
  }
}

/** To open a shelf that is not there would make it: one that another page has just cleared away stays away. */
async function shelfIfThere(/** @type {string} */ name) {
  return (await caches.has(name)) ? caches.open(name) : null;
}

/** A page as the phone kept it, marked as such; null where there is none. @param {string} path */
async function keptPage(path) {
  const page = await caches.match(path, { ignoreVary: true });
  if (page === undefined) return path === WHO ? onlyStudent() : null;
  const headers = new Headers(page.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  const text = await page.text();
  return new Response(text.replace("<html ", "<html data-kept "), { status: 200, headers });
}

/** Where one student's pages are kept, the first page leads to them, as it does on the server. */
async function onlyStudent() {
  const students = (await caches.keys()).filter((name) => name.startsWith(PAGES));
  if (students.length !== 1) return null;
  return Response.redirect(`${WHO}/${students[0].slice(PAGES.length)}`);
}

/**
 * Fetch a student's pages and every file they name, unless nothing has changed since.
 * @param {Plan} plan @param {Wish} wish
 */
async function keepPages(plan, { keep, student, edition }) {
  const shelf = await caches.open(PAGES + student);
  const before = await (await shelf.match("/edition"))?.text();
  if (before === edition) return;
  try {
    await Promise.all(keep.map(async (path) => learn(path, await fetch(path, { cache: "no-store" }))));
  } catch {
    return;
  }
  const named = await filesOfKeptPages();
  const files = await caches.open(FILES);
  await addFiles(files, named);
  await dropFiles(files, new Set([...named, ...plan.shell]));
  if (await shelf.match(keep[0])) await shelf.put("/edition", new Response(edition));
  else await caches.delete(PAGES + student);
}

/** Every file that a page kept on this phone names. @returns {Promise<string[]>} */
async function filesOfKeptPages() {
  const found = [];
  for (const name of await caches.keys()) {
    const shelf = await shelfIfThere(name);
    for (const request of (await shelf?.keys()) ?? []) {
      const page = await shelf?.match(request);
      if (page?.headers.get("Content-Type")?.startsWith("text/html")) found.push(...filesIn(await page.text()));
    }
  }
  return found;
}

/** The icons of the app are the home screen's, which keeps its own. @param {string} text */
function filesIn(text) {
  return [...text.matchAll(NAMED_FILES)].map(([, path]) => path).filter((path) => !path.endsWith(".png"));
}

/** @param {Cache} files @param {string[]} paths */
async function addFiles(files, paths) {
  const adding = [...new Set(paths)].map(async (path) => {
    if ((await files.match(path)) !== undefined && HASHED.test(path)) return;
    const file = await fetch(path);
    if (file.ok) await files.put(path, file);
  });
  await Promise.all(adding);
}

/** Drop the files of older releases, now that no page on this phone names them. */
async function dropFiles(/** @type {Cache} */ files, /** @type {Set<string>} */ wanted) {
  for (const request of await files.keys()) {
    const { pathname } = new URL(request.url);
    if (HASHED.test(pathname) && !wanted.has(pathname)) await files.delete(request);
  }
}
