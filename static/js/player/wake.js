/** Keeps the phone's screen awake while the session runs. Small and alone. */

/**
 * @param {(asleep: boolean) => void} tell  called with true when the phone may sleep, with false once it will not
 */
export function createWake(tell) {
  const self = { wanted: false, /** @type {WakeLockSentinel|null} */ lock: null };

  /** Ask again after every return to the page: the browser takes the lock away when the page is hidden. */
  async function hold() {
    self.wanted = true;
    if (self.lock !== null && !self.lock.released) return;
    try {
      const lock = await navigator.wakeLock.request("screen");
      self.lock = lock;
      if (!self.wanted) await lock.release();
      tell(false);
    } catch {
      tell(true);
    }
  }

  /** Let the phone sleep again. */
  async function release() {
    self.wanted = false;
    await self.lock?.release();
    self.lock = null;
  }

  return { hold, release, isWanted: () => self.wanted };
}
