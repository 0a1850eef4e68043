// The live stream: one connection for one browser, shared by its tabs.
// The tab that holds the lock listens and passes on; when it closes, the next in the queue takes over. A tab that hears
// nothing from a frozen leader takes the lock from it. Without locks (plain http in the workshop) each tab connects.
const NAME = "scuffboard-live";
const BACK_OFF_MS = [1000, 2000, 4000, 8000, 10000];
const SILENT_STREAM_MS = 5000;
const FROZEN_LEADER_MS = 3000;
const HEARTBEAT_MS = 1000;

class Stream {
  constructor(give, below) {
    this.give = give;
    this.below = below;
    this.tries = 0;
    this.timer = null;
    this.full = null;
    this.watch = setInterval(() => this.watchdog(), 1000);
    this.open();
  }

  open() {
    let heard = false;
    this.lastMs = performance.now();
    this.source = new EventSource(`${this.below}/live`);
    this.source.onopen = () => { heard = true; this.lastMs = performance.now(); this.give({ kind: "way", state: "open" }); };
    this.source.onerror = () => this.fail(heard);
    for (const kind of ["frame", "still"]) {
      this.source.addEventListener(kind, (event) => { this.tries = 0; this.lastMs = performance.now(); this.give({ kind, text: event.data }); });
    }
  }

  // a pulled network cable raises no error at the receiving end
  watchdog() { if (this.source && performance.now() - this.lastMs > SILENT_STREAM_MS) this.fail(true); }

  fail(heard) {
    this.source?.close();
    this.source = null;
    const wait = BACK_OFF_MS[Math.min(this.tries, BACK_OFF_MS.length - 1)];
    this.tries += 1;
    if (heard) this.full = null;
    this.give(this.full ? { kind: "way", state: "full", retry_ms: wait, cap: this.full } : { kind: "way", state: "lost", retry_ms: wait });
    if (!heard) this.askWhether(wait);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.open(), wait);
  }

  async askWhether(wait) {
    try {
      const room = await (await fetch(`${this.below}/viewers`, { cache: "no-store" })).json();
      this.full = room.viewers >= room.cap ? `${room.cap}` : null;
    } catch { this.full = null; }
    if (this.source === null && this.full) this.give({ kind: "way", state: "full", retry_ms: wait, cap: this.full });
  }

  close() { clearTimeout(this.timer); clearInterval(this.watch); this.source?.close(); this.source = null; }
}

function shared(receive, below) {
  const name = NAME + below, channel = new BroadcastChannel(name);
  let heardMs = performance.now(), leading = false;
  channel.onmessage = ({ data }) => { heardMs = performance.now(); if (data.kind !== "beat") receive(data); };
  const lead = (options) => navigator.locks.request(name, options, () => new Promise(() => {
    leading = true;
    lead.stream = new Stream((message) => { receive(message); channel.postMessage(message); }, below);
    lead.beat = setInterval(() => channel.postMessage({ kind: "beat" }), HEARTBEAT_MS);
  })).catch(() => {
    leading = false;
    lead.stream?.close();
    clearInterval(lead.beat);
    heardMs = performance.now();
    lead({ mode: "exclusive" });
  });
  lead({ mode: "exclusive" });
  setInterval(() => {
    if (leading || document.visibilityState !== "visible") return;
    if (performance.now() - heardMs < FROZEN_LEADER_MS + Math.random() * 1000) return;
    heardMs = performance.now();
    lead({ steal: true });
  }, 1000);
}

// Listens to the stream below a path: of the rig itself, or of all rigs.
export function listen(receive, below = "") {
  if (navigator.locks && globalThis.BroadcastChannel) shared(receive, below);
  else new Stream(receive, below);
}
