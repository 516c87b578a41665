// On the day's page: what this tablet itself has still to send, whoever typed it.
import { waitingBatches } from "./charging/queue.js";

const place = document.getElementById("unsent-here");
for (const { batch, count } of waitingBatches()) {
  const words = count === 1 ? place.dataset.one : place.dataset.many;
  const line = document.createElement("a");
  line.className = "d-block alert-link";
  line.href = `/batches/${encodeURIComponent(batch)}/charge/`;
  line.textContent = words.replace("COUNT", count).replace("BATCH", batch);
  place.append(line);
  place.hidden = false;
}
