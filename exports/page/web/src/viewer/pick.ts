import { Raycaster, Vector2, Vector3, type Camera, type Intersection, type Object3D } from "three";
import type { CutPlane } from "./cut";
import type { FlowLines } from "./flow";
import type { Marks } from "./marks";
import { featureAt } from "./names";
import type { PartGroup } from "./parts";
import type { Feature, Scene } from "./scene";
import { tellPiece } from "./stops";

/** What lies under the pointer. */
export interface Picked {
  at: Vector3;
  text: string;
  feature: Feature | null;
}

/** Finds what is drawn at a place of the picture: marks first, then what hides what is behind it, then what is clear. */
export class Picker {
  private readonly ray = new Raycaster();

  constructor(
    private readonly scene: Scene,
    private readonly groups: PartGroup[],
    private readonly flow: FlowLines,
    private readonly marks: Marks,
    private readonly cutPlane: CutPlane,
  ) {}

  /** `x` and `y` run from -1 to 1, to the right and up. */
  pick(x: number, y: number, camera: Camera): Picked | null {
    this.ray.setFromCamera(new Vector2(x, y), camera);
    return this.pickMark() ?? this.pickSolid();
  }

  private pickMark(): Picked | null {
    const shown = Object.values(this.marks.groups).filter((group) => group.visible);
    const marks = shown.flatMap((group) => group.children.filter((mark) => mark.visible));
    const hit = this.ray.intersectObjects(marks, false)[0];
    return hit ? { at: hit.object.position.clone(), text: this.marks.textOf(hit.object), feature: null } : null;
  }

  private pickSolid(): Picked | null {
    const group = (object: Object3D) => this.groups.find((one) => one.surface === object);
    const surfaces: Object3D[] = this.groups.filter((one) => one.visible).map((one) => one.surface);
    if (this.flow.mesh.visible) surfaces.push(this.flow.mesh);
    const hits = this.ray.intersectObjects(surfaces, false).filter((hit) => this.cutPlane.keeps(hit.point));
    const hit = hits.find((each) => !group(each.object)?.seeThrough) ?? hits[0];
    if (!hit) return null;
    const part = group(hit.object);
    return part ? this.tellPart(part, hit) : this.tellFlow(hit);
  }

  private tellPart(part: PartGroup, hit: Intersection): Picked {
    const name = part.partOf(hit.faceIndex!);
    const feature = featureAt(this.scene, hit.point);
    return { at: hit.point, text: feature ? `${name}: ${feature.name}` : name, feature };
  }

  private tellFlow(hit: Intersection): Picked {
    const line = this.flow.lineOf(hit.faceIndex!);
    if (!("channel" in line)) {
      return { at: hit.point, text: `${line.name}: ${line.port} to ${line.part}`, feature: null };
    }
    const feature = this.scene.features.find((each) => each.name === `channel ${line.channel}`);
    return { at: hit.point, text: tellPiece(line), feature: feature ?? null };
  }
}
