"""The two leaves as a planar linkage of rigid bodies in MuJoCo, for comparison.

Nothing of the simulator's own geometry is used: MuJoCo gets bodies, joints, a free end on
a level slide, a post held upright, and a rope from the wall to the free end that may
wrap a thin roller at the foot of the post from below and lift off it.
"""

import math
from dataclasses import dataclass

import mujoco
import numpy as np

GRAVITY = 9.80665
ROLLER_M = 0.0005


@dataclass(frozen=True)
class Leaves:
    """Lengths in m, masses in kg, centres of mass in m from the inner hinge."""

    length_a: float
    length_b: float
    mass_a: float
    mass_b: float
    centre_a: float
    centre_b: float
    end_mass: float
    kicker: float


def _xml(leaves: Leaves, step_s: float) -> str:
    inertia_a = leaves.mass_a * leaves.length_a**2 / 12
    inertia_b = leaves.mass_b * leaves.length_b**2 / 12
    roller_z = -(leaves.kicker - ROLLER_M)
    wrap = '<geom geom="roller" sidesite="below"/>' if leaves.kicker else ""
    return f"""
<mujoco>
  <compiler angle="radian" autolimits="true"/>
  <option timestep="{step_s}" gravity="0 0 -{GRAVITY}" jacobian="dense" integrator="Euler">
    <flag contact="disable"/>
  </option>
  <worldbody>
    <site name="wall" pos="0 0 0"/>
    <body name="a">
      <joint name="a" type="hinge" axis="0 -1 0"/>
      <inertial pos="{leaves.centre_a} 0 0" mass="{leaves.mass_a}"
        diaginertia="1e-4 {inertia_a} {inertia_a}"/>
      <body name="post" pos="{leaves.length_a} 0 0">
        <joint name="post" type="hinge" axis="0 -1 0"/>
        <inertial pos="0 0 0" mass="1e-5" diaginertia="1e-5 1e-5 1e-5"/>
        <geom name="roller" type="cylinder" size="{ROLLER_M} 0.1" pos="0 0 {roller_z}"
          euler="1.5707963267948966 0 0" mass="0"/>
        <site name="below" pos="0 0 {roller_z - 0.3}"/>
      </body>
      <body name="b" pos="{leaves.length_a} 0 0">
        <joint name="b" type="hinge" axis="0 -1 0"/>
        <inertial pos="{leaves.centre_b} 0 0" mass="{leaves.mass_b}"
          diaginertia="1e-4 {inertia_b} {inertia_b}"/>
        <site name="tip" pos="{leaves.length_b} 0 0"/>
      </body>
    </body>
    <body name="cart" pos="{leaves.length_a + leaves.length_b} 0 0">
      <joint name="cart" type="slide" axis="1 0 0"/>
      <inertial pos="0 0 0" mass="{max(leaves.end_mass, 1e-5)}" diaginertia="1e-3 1e-3 1e-3"/>
      <site name="axle" pos="0 0 0"/>
    </body>
  </worldbody>
  <tendon>
    <spatial name="rope"><site site="wall"/>{wrap}<site site="axle"/></spatial>
  </tendon>
  <equality>
    <connect site1="tip" site2="axle" solref="-1e6 -2e3" solimp="0.9999 0.9999 0.001"/>
    <joint joint1="post" joint2="a" polycoef="0 -1 0 0 0" solref="-1e6 -2e3"
      solimp="0.9999 0.9999 0.001"/>
  </equality>
  <actuator><motor name="pull" tendon="rope"/></actuator>
</mujoco>"""


class Linkage:
    """A MuJoCo model of the leaves at one angle, at rest at first."""

    def __init__(self, leaves: Leaves, angle_rad: float, step_s: float = 2e-4) -> None:
        self.leaves = leaves
        self.model = mujoco.MjModel.from_xml_string(_xml(leaves, step_s))
        self.data = mujoco.MjData(self.model)
        lean = math.asin(leaves.length_a * math.sin(angle_rad) / leaves.length_b)
        span = leaves.length_a * math.cos(angle_rad) + leaves.length_b * math.cos(lean)
        order = {"a": angle_rad, "b": -angle_rad - lean, "post": -angle_rad}
        order["cart"] = span - leaves.length_a - leaves.length_b
        for name, value in order.items():
            self.data.joint(name).qpos[0] = value
        mujoco.mj_forward(self.model, self.data)

    @property
    def angle_rad(self) -> float:
        """Leaf A above horizontal."""
        return float(self.data.joint("a").qpos[0])

    @property
    def rope_m(self) -> float:
        """Length of one rope part."""
        return float(self.data.ten_length[0])

    @property
    def rope_rate(self) -> float:
        """Rate of that length in m/s."""
        return float(self.data.ten_velocity[0])

    def line_pull_n(self) -> float:
        """Static pull in each of two parts, from MuJoCo's bias forces and rope Jacobian.

        The one motion that the joints allow is the null space of the constraint Jacobian.
        """
        size = self.model.nv
        jacobian = np.array(self.data.efc_J).reshape(-1, size)
        motion = np.linalg.svd(jacobian)[2][-1]
        rope = np.zeros(size)
        start, count = self.model.ten_J_rowadr[0], self.model.ten_J_rownnz[0]
        for place in range(start, start + count):
            rope[self.model.ten_J_colind[place]] = self.data.ten_J[place]
        return float(self.data.qfrc_bias @ motion / (-2.0 * (rope @ motion)))

    def step(self, pull_n: float) -> None:
        """Advance by one step with this force in the rope path (both parts together)."""
        self.data.ctrl[0] = -pull_n
        mujoco.mj_step(self.model, self.data)
