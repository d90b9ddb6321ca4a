// Files of a watch may be dropped on the form for them; without this script
// they are chosen.
for (const form of document.querySelectorAll('form[data-drop]')) {
  const files = form.querySelector('input[type=file]');
  const over = (on) => (event) => {
    if (![...event.dataTransfer.types].includes('Files')) return;
    event.preventDefault();
    form.classList.toggle('over', on);
  };
  form.addEventListener('dragover', over(true));
  form.addEventListener('dragleave', over(false));
  form.addEventListener('drop', (event) => {
    over(false)(event);
    if (event.dataTransfer.files.length > 0) files.files = event.dataTransfer.files;
    form.querySelector('[name=agreed]').focus();
  });
}
