// Keeps a part of the page up to date with what the server sends, and keeps
// the focus and open details where they were.
for (const place of document.querySelectorAll('[data-news]')) {
  const source = new EventSource(place.dataset.news);
  source.addEventListener('part', (event) => {
    const focused = place.contains(document.activeElement) ? document.activeElement.id : '';
    place.innerHTML = event.data;
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  });
  source.addEventListener('over', () => {
    source.close();
    location.reload();
  });
  addEventListener('pagehide', () => source.close());
}
