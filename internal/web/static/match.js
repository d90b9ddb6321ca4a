// Matches clips that came by mail to their runners, by the names of the
// files, and sends them one after the other.
import { busy, line, send } from './sending.js';
import { say } from './say.js';

const place = document.querySelector('[data-match]');
const runners = [...place.querySelector('template').content.querySelectorAll('option')];
const list = place.querySelector('[data-list]'), button = place.querySelector('button'), input = place.querySelector('input[type=file]');
const waiting = [];

const plain = (text) => text.toLowerCase().normalize('NFD').replace(/[^\p{L}\p{N}]+/gu, ' ').trim();

// guess is the one runner whose whole name, or whose only first name, the
// file's name has in it; none where two would do.
function guess(name) {
  const words = ' ' + plain(name) + ' ';
  const found = (of) => runners.filter((r) => r.value && words.includes(' ' + of(plain(r.textContent)) + ' '));
  for (const of of [(whole) => whole, (whole) => whole.split(' ')[0]]) {
    const some = found(of);
    if (some.length === 1) return some[0].value;
  }
  return '';
}

function add(files) {
  for (const file of files) {
    const item = document.createElement('li'), label = document.createElement('label'), select = document.createElement('select'), sent = document.createElement('div');
    label.textContent = say('Who is on %s?', file.name);
    for (const option of runners) select.append(option.cloneNode(true));
    select.value = guess(file.name);
    label.append(select);
    item.append(label, sent);
    list.append(item);
    waiting.push({ file, select, sent });
  }
  button.disabled = waiting.length === 0;
}

input.addEventListener('change', () => { add(input.files); input.value = ''; });
place.addEventListener('dragover', (event) => event.preventDefault());
place.addEventListener('drop', (event) => { event.preventDefault(); add(event.dataTransfer.files); });
place.addEventListener('submit', (event) => event.preventDefault());

button.addEventListener('click', async () => {
  button.disabled = true;
  await busy(async () => {
    for (const one of [...waiting]) {
      if (!one.select.value) continue;
      one.sent.textContent = '';
      const show = line(one.sent, one.file);
      try {
        await send({ upload: place.dataset.match + '/' + one.select.value + '/uploads', pieces: '/uploads', said: { kind: 'running' } }, one.file, show);
        one.select.disabled = true;
        waiting.splice(waiting.indexOf(one), 1);
      } catch (problem) {
        show.say(problem.message);
      }
    }
  });
  button.disabled = waiting.length === 0;
  place.querySelector('[data-said]').textContent = waiting.length === 0 ? say('All are here.') : say('Say who is on the clips that are left.');
});
