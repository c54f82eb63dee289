import "./page";
import { showSolid } from "../viewer/page";

void showSolid();
