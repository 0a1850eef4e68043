// A desk page with nothing live but its head.
import { deskPage } from "./desk.js";

deskPage("runs").start();
