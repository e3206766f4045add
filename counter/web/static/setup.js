// A blank that comes on a sheet has measures that one on a roll has not.

const page = document.getElementById("f-page"), sheet = document.getElementById("sheet");
page.addEventListener("change", () => { sheet.open = page.value !== "roll"; });
