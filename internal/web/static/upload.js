// The page on which one runner is filmed.
import { busy, line, send } from './sending.js';
import { say } from './say.js';

for (const form of document.querySelectorAll('form[data-upload]')) {
  const place = form.querySelector('[data-sending]');
  const take = async (files) => {
    if (files.length === 0) return;
    const button = form.querySelector('button');
    button.disabled = true;
    let failed = false;
    const fields = new FormData(form), said = {};
    for (const name of ['kind', 'speed', 'incline', 'rate']) said[name] = fields.get(name) ?? '';
    for (const file of files) {
      const show = line(place, file);
      try {
        await busy(() => send({ upload: form.dataset.upload, pieces: form.dataset.pieces, said }, file, show));
      } catch (problem) {
        failed = true;
        show.say(problem.message);
      }
    }
    button.disabled = false;
    if (!failed) {
      place.dataset.done = 'yes';
      const on = document.createElement('a');
      on.className = 'button'; on.href = form.dataset.back;
      on.textContent = form.dataset.pieces.startsWith('/invited/') ? say('Done') : say('Back to the class');
      place.append(on);
      on.focus();
    }
  };
  const chosen = form.querySelector('input[type=file][name=clip]');
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    if (chosen.files.length === 0) { place.textContent = say('Choose a clip first.'); return; }
    take([...chosen.files]);
  });
  const camera = form.querySelector('[data-camera]');
  if (matchMedia('(pointer: coarse)').matches) {
    camera.hidden = false;
    camera.querySelector('input').addEventListener('change', (event) => take([...event.target.files]));
  }
  form.addEventListener('dragover', (event) => event.preventDefault());
  form.addEventListener('drop', (event) => { event.preventDefault(); take([...event.dataTransfer.files]); });
}
