/** Fills in the time zone of this computer, where nobody has chosen one yet. */

const zone = document.querySelector("select[name=time_zone]");
const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone instanceof HTMLSelectElement && zone.value === "UTC" && here) {
  const known = [...zone.options].some((option) => option.value === here);
  if (known) zone.value = here;
}
