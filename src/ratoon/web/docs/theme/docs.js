// Where the search's own script finds its index from this page, and what it tells of itself.
var base_url = document.currentScript.dataset.base;
var min_search_length = 3;
document.addEventListener("DOMContentLoaded", () => {
  for (const box of document.querySelectorAll(".docs pre, .docs main table")) box.tabIndex = 0;
  // what was typed before the index had come
  searchWorker.addEventListener("message", (said) => {
    if (said.data.allowSearch) doSearch();
  });
});
