/* Nobody is signed in: no page of theirs stays on this device, and after signing out nothing half typed either. What was
   entered and not sent yet stays: it is sent when the same person signs in again. */
"use strict";

if (window.caches) caches.delete("changeover-pages").catch(() => {});
if (!document.querySelector("input[name=next]").value) {
  for (const name of Object.keys(localStorage)) if (name.startsWith("changeover-typed ")) localStorage.removeItem(name);
}
