// The page in place of one that cannot be had: it looks until the shop's computer answers.
const sent = document.documentElement.dataset.sent === "yes", LOOK_MS = 2000;
document.getElementById("sent").hidden = !sent;

async function look() {
  try {
    if (!(await fetch("/away/", {cache: "no-store"})).ok) return;
  } catch {
    return;
  }
  // What was sent is not sent again by itself.
  if (sent) location.replace("/who/");
  else location.reload();
}

document.getElementById("again").addEventListener("click", look);
setInterval(look, LOOK_MS);
