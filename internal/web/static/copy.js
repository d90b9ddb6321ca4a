// Copies a text from the page; where a browser can't, the button stays away.
import { say } from './say.js';

if (navigator.clipboard) {
  for (const button of document.querySelectorAll('[data-copy]')) {
    const label = button.textContent;
    button.hidden = false;
    button.addEventListener('click', async () => {
      try {
        await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).value);
        button.textContent = say('Copied');
      } catch {
        document.getElementById(button.dataset.copy).select();
        button.textContent = say('Marked: copy it with your keyboard');
      }
      setTimeout(() => { button.textContent = label; }, 4000);
    });
  }
}
