// One stream per browser: the tab that holds the lock listens and tells the others.
// Where the browser has no locks (plain http from another computer), each tab listens by itself.
const LOCK = "sprayout-stream";
const CHANNEL = "sprayout-news";
const KINDS = ["state", "colour", "booth"];
const QUIET_MS = 20_000;

// `take(kind, data)` gets each piece of news; `broken(yes)` whether the stream is down.  Gives back
// `renew`, which opens the stream anew where this tab is the one that listens.
export function listen(take, broken) {
  const shared = "locks" in navigator && "BroadcastChannel" in globalThis;
  const link = { renew() {} };
  if (!shared) {
    link.renew = lead(take, broken, () => {});
    return link;
  }
  const channel = new BroadcastChannel(CHANNEL);
  let leading = false;
  let last = null;
  channel.addEventListener("message", ({ data: [kind, text] }) => {
    if (leading) {
      if (kind === "hello" && last) channel.postMessage(last);
      return;
    }
    if (kind === "broken") broken(text);
    else if (kind !== "hello") take(kind, JSON.parse(text));
  });
  channel.postMessage(["hello", null]);
  navigator.locks.request(LOCK, () => new Promise(() => {
    // Held until this tab goes; then the next in the queue leads.
    leading = true;
    link.renew = lead(take, broken, (kind, text) => {
      if (kind === "state") last = [kind, text];
      channel.postMessage([kind, text]);
    });
  }));
  return link;
}

function lead(take, broken, tell) {
  let source = null;
  let heard_ms = performance.now();
  const open = () => {
    source?.close();
    heard_ms = performance.now();
    source = new EventSource("/api/live");
    source.addEventListener("error", () => {
      broken(true);
      tell("broken", true);
    });
    for (const kind of KINDS) {
      source.addEventListener(kind, (event) => {
        heard_ms = performance.now();
        tell(kind, event.data);
        take(kind, JSON.parse(event.data));
      });
    }
  };
  open();
  // A stream that says nothing is dead though it looks open: a tablet that slept, a cable pulled.
  const look = () => {
    const closed = source.readyState === EventSource.CLOSED;
    if (closed || performance.now() - heard_ms > QUIET_MS) open();
  };
  setInterval(look, 2000);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && performance.now() - heard_ms > 5000) open();
  });
  addEventListener("online", open);
  // A page kept in the back-forward cache comes back with a dead stream.
  addEventListener("pageshow", (event) => event.persisted && open());
  addEventListener("pagehide", () => source.close());
  return open;
}
