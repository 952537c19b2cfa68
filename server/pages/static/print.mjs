// Shows the print button where there is a script to print with; without it the page says to use the browser's menu.
for (const button of document.querySelectorAll('button.printing')) {
  button.hidden = false;
  button.addEventListener('click', () => window.print());
}
