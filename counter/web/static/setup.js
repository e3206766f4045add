// A blank that comes on a sheet has measures that one on a roll has not.

const page = document.getElementById("f-page"), sheet = document.getElementById("sheet");
const follow = () => { sheet.open = page.value !== "roll"; };
page.addEventListener("change", follow);
follow();  // somebody may have chosen before this was loaded
