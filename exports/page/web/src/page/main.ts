import "../viewer/viewer.css";
import "./page.css";
import "./plan/plan.css";
import { Page } from "./page";

new Page(document.getElementById("page")!).open();
