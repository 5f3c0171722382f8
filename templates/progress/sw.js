{% load static %}import * as outbox from "{% static 'js/outbox/outbox.js' %}";
import { serve } from "{% static 'js/outbox/worker.js' %}";

serve(self, outbox, {
  noSignal: "{% url 'progress:no_signal' %}",
  shell: [
    "{% static 'vendor/atkinson-hyperlegible-next-5.3.0/atkinson-hyperlegible-next-latin-wght-normal.woff2' %}",
    "{% static 'vendor/literata-5.3.0/literata-latin-600-normal.woff2' %}",
  ],
});
