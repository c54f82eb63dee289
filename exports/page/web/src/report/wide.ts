/** Lets whatever is wider than its room be scrolled by the keyboard too. */
export function watchWide(): void {
  const judge = (element: HTMLElement) => {
    const tooWide = element.scrollWidth > element.clientWidth + 1;
    if (tooWide) {
      element.tabIndex = 0;
      element.setAttribute("role", "group");
      element.setAttribute("aria-label", `${element.dataset["wide"] ?? ""} (scrolls sideways)`);
    } else {
      for (const name of ["tabindex", "role", "aria-label"]) element.removeAttribute(name);
    }
  };
  const observer = new ResizeObserver((entries) => {
    for (const entry of entries) judge(entry.target as HTMLElement);
  });
  for (const element of document.querySelectorAll<HTMLElement>(".wide")) observer.observe(element);
}
