// Sends clips in pieces. A lost connection is waited out, and a clip that was
// begun before the page was loaded anew goes on where it stopped.
import { say } from './say.js';

const FIRST = 512 * 1024, LARGEST = 8 * 1024 * 1024;
const WAITS = [1, 2, 4, 8, 15]; // seconds

const pause = (seconds) => new Promise((done) => {
  const id = setTimeout(done, seconds * 1000);
  addEventListener('online', () => { clearTimeout(id); done(); }, { once: true });
});

class Refused extends Error {}

async function ask(url, options = {}) {
  const answer = await fetch(url, { ...options, headers: { Accept: 'application/json', ...options.headers } });
  const body = await answer.json().catch(() => ({}));
  if (answer.ok || answer.status === 409) return body;
  if (answer.status >= 500 || answer.status === 429 || answer.status === 408) throw new Error(body.error ?? say('The server is busy.'));
  throw new Refused(body.error ?? say('The server did not take it.'));
}

// patiently tries until it works, or until trying again won't help.
async function patiently(attempt, tell) {
  for (let n = 0; ; n++) {
    try {
      return await attempt();
    } catch (problem) {
      if (problem instanceof Refused) throw problem;
      tell(navigator.onLine ? say('The connection was lost. Trying again …') : say('No Wi-Fi. It goes on by itself when the connection is back.'));
      await pause(WAITS[Math.min(n, WAITS.length - 1)]);
    }
  }
}

const memory = (target, file) => 'clip ' + [target.upload, file.name, file.size, file.lastModified].join(' ');

async function begin(target, file, tell) {
  const key = memory(target, file);
  const before = localStorage.getItem(key);
  if (before) {
    const state = await patiently(() => ask(target.pieces + '/' + before), tell).catch(() => null);
    if (state && !state.check) return state;
    localStorage.removeItem(key);
  }
  const said = { name: file.name, bytes: file.size, filmed: file.lastModified || 0, ...target.said };
  const state = await patiently(() => ask(target.upload, { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(said) }), tell);
  localStorage.setItem(key, state.id);
  return state;
}

// send sends one file to a target: {upload: where clips are announced,
// pieces: where their pieces go, said: what is stated with them}.
export async function send(target, file, show) {
  let { id, have } = await begin(target, file, show.say);
  have ??= 0;
  let size = FIRST;
  for (;;) {
    const began = performance.now();
    const state = await patiently(async () => {
      try {
        return await ask(`${target.pieces}/${id}?offset=${have}`, { method: 'PATCH', body: file.slice(have, have + size) });
      } catch (problem) {
        if (!(problem instanceof Refused)) {
          size = FIRST;
          have = (await ask(target.pieces + '/' + id)).have;
        }
        throw problem;
      }
    }, show.say);
    have = state.have;
    show.far(have / file.size);
    if (state.check) break;
    if (performance.now() - began < 1500) size = Math.min(2 * size, LARGEST);
  }
  localStorage.removeItem(memory(target, file));
}

// line shows how far a file is.
export function line(place, file) {
  const item = document.createElement('div');
  const name = document.createElement('p'), bar = document.createElement('progress'), said = document.createElement('p');
  name.textContent = file.name || say('Clip');
  bar.max = 1; bar.value = 0;
  bar.setAttribute('aria-label', say('Sent of %s', name.textContent));
  said.className = 'state';
  item.append(name, bar, said);
  place.append(item);
  let last = -1;
  return {
    say(text) { said.textContent = text; },
    far(share) {
      bar.value = share;
      const ten = Math.floor(share * 10) * 10;
      if (ten !== last) { last = ten; said.textContent = share >= 1 ? say('It is here, and waits to be measured.') : say('%d %% are sent', ten); }
    },
  };
}

let going = 0;
addEventListener('beforeunload', (event) => { if (going > 0) event.preventDefault(); });

// busy keeps the page from being left unasked while the work is going on.
export async function busy(work) {
  going++;
  try {
    return await work();
  } finally {
    going--;
  }
}
