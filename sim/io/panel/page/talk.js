/// How the page talks to the program: JSON by fetch, and the live connection. The class's page asks as the class.

export const AS_CLASS = location.pathname.replace(/\/+$/, '').endsWith('/class');

/// The address of a part of the interface, for this page's role.
export function address(path, query = {}) {
  const all = new URLSearchParams(query);
  if (AS_CLASS) all.set('view', 'class');
  const text = all.toString();
  return text ? `${path}?${text}` : path;
}

export class Refused extends Error {
  constructor(status, message) {
    super(message);
    this.status = status;
  }
}

async function answerOf(asked) {
  let response, text;
  try {
    response = await asked;
    text = await response.text();
  } catch (unreachable) {
    throw new Refused(0, 'the program does not answer');
  }
  let body = null;
  try {
    body = text ? JSON.parse(text) : null;
  } catch (no_json) {
    body = null;
  }
  if (!response.ok) throw new Refused(response.status, body?.error || `the program answers ${response.status}`);
  return body;
}

export async function ask(path, query) {
  return answerOf(fetch(address(path, query), {cache: 'no-store'}));
}

export async function tell(path, body) {
  const headers = {'Content-Type': 'application/json'};
  return answerOf(fetch(address(path), {method: 'POST', headers, body: JSON.stringify(body)}));
}

/// The live connection. Comes back by itself; `opened` is called each time it stands again.
export class Live {
  constructor({message, opened, lost}) {
    Object.assign(this, {message, opened, lost, wanted: null, tries: 0, socket: null});
  }
  start() {
    const scheme = location.protocol === 'https:' ? 'wss:' : 'ws:';
    const socket = new WebSocket(`${scheme}//${location.host}${address('/api/live')}`);
    this.socket = socket;
    socket.onopen = () => {
      this.tries = 0;
      this.opened();
    };
    socket.onmessage = (event) => {
      let said = null;
      try {
        said = JSON.parse(event.data);
      } catch (no_json) {
        return; // nothing of ours
      }
      this.message(said);
    };
    socket.onclose = () => {
      if (this.socket !== socket) return;
      this.socket = null;
      this.tries += 1;
      const wait = Math.min(5, 0.5 * 2 ** Math.min(this.tries, 4)); // s
      this.lost(wait);
      setTimeout(() => this.start(), wait * 1000);
    };
  }
  /// Forgets what was wanted before.
  only(what) {
    this.wanted = null;
    this.want(what);
  }
  want(what) {
    this.wanted = {...this.wanted, ...what};
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(this.wanted));
  }
}
